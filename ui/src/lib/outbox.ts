/** Writes wait here until the server has them: in the browser's store, so that they outlive the page. */
import { run } from './store'

export interface Waiting { n?: number; method: string; path: string; body: unknown }

const memory: Waiting[] = []
let count = 0

export async function all(): Promise<Waiting[]> {
  return (await run('outbox', 'readonly', (s) => s.getAll() as IDBRequest<Waiting[]>)) ?? [...memory]
}

/** Keeps a write; a whole entry written again takes the place of the one that still waits. */
export async function keep(w: Waiting): Promise<number> {
  if (w.method === 'PUT') for (const old of await all()) if (old.method === 'PUT' && old.path === w.path && old.n !== undefined) await drop(old.n)
  const n = await run('outbox', 'readwrite', (s) => s.add(w) as IDBRequest<number>)
  if (n !== null) return n
  w.n = -++count
  memory.push(w)
  return w.n
}

export async function drop(n: number): Promise<void> {
  const i = memory.findIndex((w) => w.n === n)
  if (i >= 0) memory.splice(i, 1)
  else await run('outbox', 'readwrite', (s) => s.delete(n) as IDBRequest<undefined>)
}
