// The pages and their engine, for when the server does not answer. What was read of the notebook is kept by the
// pages themselves. The server's build writes in which build this is and what belongs to it.
const BUILD = '__BUILD__'
const FILES = ['__FILES__']
const shell = `shell ${BUILD}`

addEventListener('install', (e) => {
  const all = FILES.map((path) => new Request(path, { cache: 'reload' }))
  e.waitUntil(caches.open(shell).then((c) => c.addAll(all)).then(() => skipWaiting()))
})

// another build takes the place of the one before
addEventListener('activate', (e) => {
  const old = (names) => names.filter((name) => name.startsWith('shell ') && name !== shell)
  e.waitUntil(caches.keys().then((names) => Promise.all(old(names).map((name) => caches.delete(name)))).then(() => clients.claim()))
})

async function kept(path, request) {
  const found = await (await caches.open(shell)).match(path)
  return found ?? fetch(request)
}
/** The page itself comes from the server while it answers, so that an update shows at once. */
async function page(request) {
  try {
    const answer = await fetch(request)
    if (answer.status < 500) return answer
  } catch { /* as kept */ }
  return kept('/', request)
}

addEventListener('fetch', (e) => {
  const url = new URL(e.request.url)
  if (e.request.method !== 'GET' || url.origin !== location.origin) return
  if (url.pathname === '/') e.respondWith(page(e.request))
  else if (FILES.includes(url.pathname)) e.respondWith(kept(url.pathname, e.request))
})
