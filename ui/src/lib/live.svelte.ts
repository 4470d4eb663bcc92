import { changes } from './api.svelte'
import { inWords } from './documents'

export interface Live<T> { data: T | null; wrong: string; loading: boolean }

/** Something read now and whenever the notebook changes; only the newest answer counts. */
export function live<T>(load: () => Promise<T> | null): Live<T> {
  const state = $state<Live<T>>({ data: null, wrong: '', loading: true })
  let n = 0
  $effect(() => {
    void changes.n
    const mine = ++n
    const going = load()
    if (!going) { state.loading = false; return }
    going.then(
      (got) => { if (mine === n) { state.data = got; state.wrong = ''; state.loading = false } },
      (e: unknown) => { if (mine === n) { state.wrong = inWords(e); state.loading = false } },
    )
  })
  return state
}

/** A clock that ticks once a second, and at once when the page wakes. */
export const clock = $state({ now: Date.now() })
setInterval(() => { clock.now = Date.now() }, 1000)
document.addEventListener('visibilitychange', () => { clock.now = Date.now() })
