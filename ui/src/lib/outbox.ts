/** Writes wait here until the server has them: in IndexedDB, so that they outlive the page. */
export interface Waiting { n?: number; method: string; path: string; body: unknown }

let open: Promise<IDBDatabase | null> | null = null
const memory: Waiting[] = []
let count = 0

function base(): Promise<IDBDatabase | null> {
  open ??= new Promise((resolve) => {
    if (!globalThis.indexedDB) return resolve(null)
    const ask = indexedDB.open('grigne', 1)
    ask.onupgradeneeded = () => ask.result.createObjectStore('outbox', { keyPath: 'n', autoIncrement: true })
    ask.onsuccess = () => resolve(ask.result)
    ask.onerror = () => resolve(null)
  })
  return open
}

function run<T>(mode: IDBTransactionMode, act: (s: IDBObjectStore) => IDBRequest<T>): Promise<T | null> {
  return base().then((db) => {
    if (!db) return null
    return new Promise<T | null>((resolve) => {
      const t = db.transaction('outbox', mode)
      const r = act(t.objectStore('outbox'))
      t.oncomplete = () => resolve(r.result)
      t.onerror = t.onabort = () => resolve(null)
    })
  })
}

export async function all(): Promise<Waiting[]> {
  return (await run('readonly', (s) => s.getAll() as IDBRequest<Waiting[]>)) ?? [...memory]
}

/** Keeps a write; a whole entry written again takes the place of the one that still waits. */
export async function keep(w: Waiting): Promise<number> {
  if (w.method === 'PUT') for (const old of await all()) if (old.method === 'PUT' && old.path === w.path && old.n !== undefined) await drop(old.n)
  const n = await run('readwrite', (s) => s.add(w) as IDBRequest<number>)
  if (n !== null) return n
  w.n = -++count
  memory.push(w)
  return w.n
}

export async function drop(n: number): Promise<void> {
  const i = memory.findIndex((w) => w.n === n)
  if (i >= 0) memory.splice(i, 1)
  else await run('readwrite', (s) => s.delete(n) as IDBRequest<undefined>)
}
