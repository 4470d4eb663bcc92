/** What still waits in the outbox, laid over what was last read: the pages go on without the server. Laid twice, it stands once. */
type Thing = Record<string, unknown>
const has = (list: unknown, id: string) => Array.isArray(list) && list.some((x) => (x as Thing)['id'] === id)

export function lay(kept: Map<string, unknown>, method: string, path: string, body: unknown) {
  const [address, query] = path.split('?')
  const p = address!.split('/').filter(Boolean)
  const b = (body ?? {}) as Thing
  const whole = (id: string) => kept.get(`/bakes/${id}`) as { bake: Thing; did: Thing[]; measured: Thing[]; annotations: Thing[] } | undefined
  const lists = (name: string) => [...kept].filter(([k]) => k === `/${name}` || k.startsWith(`/${name}?`)).map(([, v]) => v)
  if (p[0] === 'bakes' && p[2] === 'did') {
    const w = whole(p[1]!)
    if (!w) return
    if (method === 'DELETE') w.did = w.did.filter((d) => d['id'] !== p[3])
    else if (!has(w.did, p[3]!)) w.did = [...w.did, { id: p[3], bake: p[1], ...b }]
  } else if (p[0] === 'bakes' && p.length === 2 && method === 'PUT') {
    if (!whole(p[1]!)) kept.set(path, { bake: b, title: '', kitchen: '', did: [], measured: [], annotations: [] })
    for (const l of lists('bakes')) {
      const { items } = l as { items: { bake: Thing }[] }
      if (!has(items.map((x) => x.bake), p[1]!)) items.unshift({ bake: b, title: '', kitchen: '', photo: null } as { bake: Thing })
    }
  } else if (p[0] === 'bakes' && p[2] === 'finish') {
    const w = whole(p[1]!)
    if (w) w.bake['finished'] = b['at']
    for (const [k, l] of kept) if (k.startsWith('/bakes?underway')) { const page = l as { items: { bake: Thing }[] }; page.items = page.items.filter((x) => x.bake['id'] !== p[1]) }
  } else if (p[0] === 'bakes' && p[2] === 'judge') {
    const w = whole(p[1]!)
    if (w) Object.assign(w.bake, b)
  } else if (p[0] === 'bakes' && p[2] === 'annotations') {
    const w = whole(p[1]!)
    if (w && !has(w.annotations, p[3]!)) w.annotations.push({ id: p[3], ...b })
  } else if (p[0] === 'measurements' && method === 'PUT') {
    const w = typeof b['bake'] === 'string' ? whole(b['bake']) : undefined
    if (w && !has(w.measured, p[1]!)) w.measured = [...w.measured, b]
    const c = typeof b['culture'] === 'string' ? (kept.get(`/cultures/${b['culture']}`) as { measured: { items: Thing[] } } | undefined) : undefined
    if (c && !has(c.measured.items, p[1]!)) c.measured.items.unshift(b)
  } else if (p[0] === 'plans' && method === 'PUT') {
    kept.set(address!, b)
    const instead = new URLSearchParams(query).get('instead')
    for (const l of lists('plans') as Thing[][]) {
      const old = l.findIndex((x) => x['id'] === instead)
      if (old >= 0) l.splice(old, 1)
      if (!has(l, p[1]!)) l.push(b)
    }
  } else if (p[0] === 'cultures' && p[2] === 'feeds') {
    const c = kept.get(`/cultures/${p[1]}`) as { feeds: { items: Thing[] } } | undefined
    if (c) c.feeds.items = method === 'DELETE' ? c.feeds.items.filter((f) => f['id'] !== p[3]) : [b, ...c.feeds.items.filter((f) => f['id'] !== p[3])]
  } else if (p[0] === 'cultures' && p.length === 2 && method === 'PUT') {
    kept.set(path, { culture: b, feeds: { items: [], next: null }, measured: { items: [], next: null } })
    for (const l of lists('cultures')) if (!has(l, p[1]!)) (l as Thing[]).push(b)
  } else if ((p[0] === 'recipes' || p[0] === 'kitchens') && p[2] === 'versions') {
    const one = p[0] === 'recipes' ? 'recipe' : 'kitchen'
    const text = String(b['text'] ?? '')
    const title = /^(?:title|name)\s*=\s*"(.*)"/m.exec(text)?.[1] ?? ''
    const version = { id: p[3], [one]: p[1], parent: b['parent'], at: Date.now(), title, note: b['note'] ?? '', text, demo: false }
    const was = kept.get(`/${p[0]}/${p[1]}`) as { tree: Thing[] } | undefined
    if (has(was?.tree, p[3]!)) return
    kept.set(`/${p[0]}/${p[1]}`, { [one]: { id: p[1], current: p[3], put_away: false, demo: false }, version, tree: [...(was?.tree ?? []), version] })
    kept.set(`/${one}-versions/${p[3]}`, version)
    for (const l of lists(p[0])) {
      const items = (l as { items: Thing[] }).items
      const known = items.find((x) => x['id'] === p[1])
      if (known) Object.assign(known, { current: p[3], title, versions: Number(known['versions']) + 1 })
      else items.push({ id: p[1], current: p[3], title, at: Date.now(), versions: 1, last_baked: null, put_away: false, demo: false })
    }
  }
}
