/** Where we are: "#/plan/KEY?x=y". */
function read() {
  const [path, query] = location.hash.replace(/^#\/?/, '').split('?')
  const parts = (path ?? '').split('/').filter(Boolean).map(decodeURIComponent)
  return { page: parts[0] ?? 'today', rest: parts.slice(1), query: new URLSearchParams(query ?? '') }
}
export const route = $state({ at: read() })
addEventListener('hashchange', () => {
  route.at = read()
  scrollTo(0, 0)
  document.querySelector<HTMLElement>('main h1')?.focus()
})
export const go = (to: string) => { location.hash = to }
