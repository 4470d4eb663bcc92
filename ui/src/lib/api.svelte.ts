/** Talks with the server: reads are kept for when it cannot be reached, writes wait in the outbox. */
import { during } from './busy.svelte'
import { Refused, type Problem } from './documents'
import { key } from './keys'
import * as outbox from './outbox'
import * as seen from './seen'

export const net = $state({ online: true, waiting: 0, revision: 0, trouble: '' })

export const device = (() => {
  const named = localStorage.getItem('device')
  if (named) return named
  const a = navigator.userAgent
  const made = /iPhone|Android.*Mobile/.test(a) ? 'phone' : /iPad|Android/.test(a) ? 'tablet' : 'desk'
  localStorage.setItem('device', made)
  return made
})()

class Unreachable extends Error {}

async function send(method: string, path: string, body?: unknown, media = 'application/json'): Promise<unknown> {
  let answer: Response
  try {
    answer = await fetch('/api' + path, {
      method,
      headers: { 'X-Grigne-Device': device, ...(body === undefined ? {} : { 'Content-Type': media }) },
      ...(body === undefined ? {} : { body: body instanceof Blob ? body : JSON.stringify(body) }),
    })
  } catch {
    net.online = false
    throw new Unreachable('The server does not answer.')
  }
  if ([502, 503, 504].includes(answer.status)) {
    net.online = false
    throw new Unreachable('The server does not answer.')
  }
  net.online = true
  const text = await answer.text()
  let read: unknown = null
  try {
    read = text ? JSON.parse(text) : null
  } catch { /* not JSON: said below */ }
  if (!answer.ok) {
    const p = (read ?? {}) as Partial<Problem>
    throw new Refused({ ...p, title: p.title ?? answer.statusText, detail: p.detail ?? p.title ?? `The server said ${answer.status}.`, status: answer.status })
  }
  const r = read as { revision?: number } | null
  if (method !== 'GET' && r && typeof r.revision === 'number') net.revision = r.revision
  return read
}

export const get = <T>(path: string): Promise<T> => during(got<T>(path))

async function got<T>(path: string): Promise<T> {
  try {
    const got = await send('GET', path)
    seen.keep(path, got)
    return got as T
  } catch (e) {
    const was = e instanceof Unreachable ? await seen.last(path) : undefined
    if (was === undefined) throw e
    return was as T
  }
}

/** Asks the server's engine; not a write. */
export const ask = (question: unknown, progress?: string) =>
  send('POST', '/ask' + (progress ? `?progress=${progress}` : ''), question)

/** An address for a phone, as text and picture. */
export const pair = () => send('POST', '/pairing') as Promise<{ address: string; svg: string }>

export const photo = (file: Blob) => send('POST', '/photos', file, file.type || 'image/jpeg') as Promise<{ hash: string; media: string }>

let flushing: Promise<void> | null = null
const outcomes = new Map<number, { ok: (v: unknown) => void; no: (e: unknown) => void }>()

/** A verdict that comes after its bake was finished elsewhere, as a note to it. */
function late(w: outbox.Waiting, e: unknown): outbox.Waiting | null {
  const [, bake] = /^\/bakes\/([^/]+)\/(?:judge|finish)$/.exec(w.path) ?? []
  if (!bake || !(e instanceof Refused) || e.problem.status !== 409) return null
  const b = w.body as Record<string, unknown>
  const said = [['crumb', 'crumb'], ['crust', 'crust'], ['oven_spring', 'oven spring'], ['taste', 'taste'], ['note', '']] as const
  const words = said.filter(([k]) => b[k]).map(([k, name]) => `${String(b[k])} ${name}`.trim()).join(', ')
  return words ? { method: 'PUT', path: `/bakes/${bake}/annotations/${key()}`, body: { at: Date.now(), words, photo: null } } : null
}

async function flush(): Promise<void> {
  const waiting = await outbox.all()
  net.waiting = waiting.length
  for (const w of waiting) {
    try {
      const got = await send(w.method, w.path, w.body)
      await outbox.drop(w.n!)
      net.waiting--
      const waits = outcomes.get(w.n!)
      if (waits) waits.ok(got)
      else if ((got as Kept | null)?.beside) net.trouble = 'What you wrote without the server stands beside a version of another device: see Versions of that recipe or kitchen.'
    } catch (e) {
      if (e instanceof Unreachable) {
        for (const o of outcomes.values()) o.ok(null) // kept: it goes out later
        outcomes.clear()
        return
      }
      const caller = outcomes.get(w.n!)
      const note = caller ? null : late(w, e)
      if (note) await outbox.keep(note)
      await outbox.drop(w.n!)
      net.waiting--
      if (caller) caller.no(e)
      else if (note) { net.waiting++; setTimeout(() => void flushSoon()) }
      else net.trouble = e instanceof Error ? e.message : String(e)
    }
    outcomes.delete(w.n!)
  }
}

export function flushSoon(): Promise<void> {
  const after = (flushing ?? Promise.resolve()).then(flush)
  const run: Promise<void> = after.finally(() => { if (flushing === run) flushing = null })
  flushing = run
  return run
}

/** What the server says of a write; `beside` is a version of another device this one was not made from. */
interface Kept { revision: number; beside?: string | null }
/** A write: resolves when the server has it, or with `null` when it waits in the outbox. */
async function write(method: string, path: string, body: unknown): Promise<Kept | null> {
  const n = await outbox.keep({ method, path, body: body === undefined ? undefined : JSON.parse(JSON.stringify(body)) })
  const outcome = new Promise<unknown>((ok, no) => outcomes.set(n, { ok, no }))
  void flushSoon()
  const got = (await outcome) as Kept | null
  if (got === null) await seen.over(method, path, JSON.parse(JSON.stringify(body ?? null)))
  return got
}
export const put = (path: string, body: unknown) => write('PUT', path, body)
export const post = (path: string, body?: unknown) => write('POST', path, body ?? {})
export const del = (path: string) => write('DELETE', path, undefined)

/** Tells pages that something changed, whoever changed it. */
export const changes = $state({ n: 0 })
let source: EventSource | null = null
const progress = new Map<string, (share: number) => void>()
export const onProgress = (key: string, tell: (share: number) => void) => { progress.set(key, tell); return () => progress.delete(key) }

export function listen() {
  if (source || !globalThis.EventSource) return
  source = new EventSource(`/api/events?since=${net.revision}`)
  source.addEventListener('changed', (e) => {
    net.online = true
    const d = JSON.parse((e as MessageEvent<string>).data) as { revision: number }
    if (d.revision > net.revision) net.revision = d.revision
    changes.n++
  })
  source.addEventListener('progress', (e) => {
    const d = JSON.parse((e as MessageEvent<string>).data) as { key: string; share: number }
    progress.get(d.key)?.(d.share)
  })
  source.onopen = () => { net.online = true; void flushSoon() }
  source.onerror = () => {
    if (source?.readyState === EventSource.CLOSED) { source = null; setTimeout(listen, 5000) }
  }
}
void flushSoon() // what an earlier page left
addEventListener('online', () => void flushSoon())
setInterval(() => { if (net.waiting) void flushSoon() }, 10_000)
