/** What was last read from the server, for when it does not answer; what waits in the outbox is laid over it. */
import * as outbox from './outbox'
import { lay } from './overlay'
import { run } from './store'

const MOST = 400
const seen = new Map<string, unknown>()
interface Stored { path: string; at: number; body: unknown }

export function keep(path: string, body: unknown) {
  seen.set(path, body)
  void run('seen', 'readwrite', (s) => s.put({ path, at: Date.now(), body } satisfies Stored))
}

/** What an earlier page read, once, under what this one did. */
let loaded: Promise<void> | null = null
const load = () => (loaded ??= (async () => {
  const stored = ((await run('seen', 'readonly', (s) => s.getAll() as IDBRequest<Stored[]>)) ?? []).sort((a, b) => b.at - a.at)
  for (const s of stored.slice(0, MOST)) if (!seen.has(s.path)) seen.set(s.path, s.body)
  for (const old of stored.slice(MOST)) await run('seen', 'readwrite', (s) => s.delete(old.path) as IDBRequest<undefined>)
  for (const w of await outbox.all()) lay(seen, w.method, w.path, w.body ?? null)
})())

/** Lists from a moment on are asked with another moment each time. */
const shape = (path: string) => path.replace(/after=\d+/, 'after=')
const after = (path: string) => Number(/after=(\d+)/.exec(path)?.[1] ?? 0)

/** As it was last read, or what is nearest to it; nothing when it never was. */
export async function last(path: string): Promise<unknown> {
  await load()
  const near = seen.has(path) ? path : [...seen.keys()].filter((k) => shape(k) === shape(path))
    .sort((a, b) => Math.abs(after(a) - after(path)) - Math.abs(after(b) - after(path)))[0]
  // a copy: what reads it must see that it changed
  return near === undefined ? undefined : structuredClone(seen.get(near))
}

export async function over(method: string, path: string, body: unknown) {
  await load()
  lay(seen, method, path, body)
}
