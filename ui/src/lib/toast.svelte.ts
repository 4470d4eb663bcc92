import { changes, post } from './api.svelte'
import { inWords } from './documents'

/** One line at the foot: what was done, with its undo. */
export const toast = $state<{ words: string; undo: boolean; alert: boolean }>({ words: '', undo: false, alert: false })
let timer: ReturnType<typeof setTimeout> | undefined

function show(words: string, undo: boolean, alert: boolean) {
  clearTimeout(timer)
  Object.assign(toast, { words, undo, alert })
  timer = setTimeout(() => { toast.words = '' }, alert ? 12_000 : 8_000)
}
/** Says what was done; a write can be undone from here. */
export const said = (words: string, undo = true) => show(words, undo, false)
export const wrong = (e: unknown) => show(inWords(e), false, true)
export const hush = () => { toast.words = '' }

export async function undo() {
  try {
    const got = await post('/undo')
    show(got ? 'Undone.' : 'The undo goes out when the server answers.', false, false)
    changes.n++
  } catch (e) { wrong(e) }
}
export async function redo() {
  try {
    await post('/redo')
    show('Done again.', true, false)
    changes.n++
  } catch (e) { wrong(e) }
}
/** Runs a write and says so, or says what went wrong. */
export async function doing<T>(words: string, act: () => Promise<T>): Promise<T | undefined> {
  try {
    const got = await act()
    said(got === null ? words + ' It waits here until the server answers.' : words, got !== null)
    changes.n++
    return got
  } catch (e) {
    wrong(e)
    return undefined
  }
}
