/** What outlives the page, in IndexedDB: writes that wait, and what was last read. Without it both live as long as the page. */
type Shelf = 'outbox' | 'seen'
let open: Promise<IDBDatabase | null> | null = null

function base(): Promise<IDBDatabase | null> {
  open ??= new Promise((resolve) => {
    if (!globalThis.indexedDB) return resolve(null)
    const ask = indexedDB.open('grigne', 2)
    ask.onupgradeneeded = () => {
      const db = ask.result
      if (!db.objectStoreNames.contains('outbox')) db.createObjectStore('outbox', { keyPath: 'n', autoIncrement: true })
      if (!db.objectStoreNames.contains('seen')) db.createObjectStore('seen', { keyPath: 'path' })
    }
    ask.onsuccess = () => {
      // a newer page wants another form of it: this one lets go
      ask.result.onversionchange = () => { ask.result.close(); open = null }
      resolve(ask.result)
    }
    ask.onerror = ask.onblocked = () => resolve(null)
  })
  return open
}

export async function run<T>(shelf: Shelf, mode: IDBTransactionMode, act: (s: IDBObjectStore) => IDBRequest<T>): Promise<T | null> {
  const db = await base()
  if (!db) return null
  return new Promise<T | null>((resolve) => {
    try {
      const t = db.transaction(shelf, mode)
      const r = act(t.objectStore(shelf))
      t.oncomplete = () => resolve(r.result)
      t.onerror = t.onabort = () => resolve(null)
    } catch { resolve(null) }
  })
}
