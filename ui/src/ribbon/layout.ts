/** Where everything of a ribbon stands: numbers only, drawn by Ribbon.svelte. */
import type { CurvePoint, OnePlan, PlanStep, Sample } from '../lib/documents'

const DOUGH = 38
const PREFERMENT = 11
const PLAIN = 9
const THICKEST = 96
export const APART = 18
const SLANT = { x: 0.669, y: 0.743 }
const OVEN = new Set(['load', 'bake', 'vent', 'turn', 'reheat'])

export interface Knot { x: number; y: number; half: number; low: number; high: number; celsius: number }
export interface Strip { name: string; kind: 'dough' | 'levain' | 'plain'; knots: Knot[]; label: string; labelX: number; labelY: number; labelEnd: boolean }
export interface Name { step: number; x: number; shown: number; text: string; idle: boolean; lead: string }
export interface Tick { step: number; x: number; top: number; bottom: number; hands: boolean; title: string }
export interface Bracket { from: number; to: number; at: number; y: number }
export interface Bread {
  strips: Strip[]; names: Name[]; anchor: number; ticks: Tick[]; brackets: Bracket[]
  temps: { x: number; y: number; celsius: number }[]; splits: string[]
  oven: { x: number; width: number; y: number; height: number } | null
  cooling: { x: number; width: number; y: number; height: number } | null
  hands: { x: number; width: number; y: number }[]; handsY: number; top: number; bottom: number; middle: number
}
export interface Axis { x: (minute: number) => number; from: number; to: number; right: number; time: (minute: number) => string; celsius: (c: number) => string }

const volume = (v: number | undefined) => (Number.isFinite(v) ? Math.min(20, Math.max(0.05, v!)) : 1)
export const wide = (text: string, size: number) => text.length * size * 0.55

export function inOven(s: PlanStep) { return OVEN.has(s.do) }

/** The band at a moment of a line, straight between its points. */
function bandAt(curve: CurvePoint[], line: number, step: number, minute: number) {
  let a: CurvePoint | undefined
  let b: CurvePoint | undefined
  for (const p of curve) {
    if (p.line !== line || p.step !== step || !p.volume) continue
    if (p.minute <= minute) a = p
    if (p.minute >= minute && !b) b = p
  }
  if (!a || !b || !a.volume || !b.volume) return (a ?? b)?.volume
  const f = b.minute > a.minute ? (minute - a.minute) / (b.minute - a.minute) : 0
  const mix = (p: number, q: number) => p + (q - p) * f
  return { low: mix(a.volume.low, b.volume.low), mid: mix(a.volume.mid, b.volume.mid), high: mix(a.volume.high, b.volume.high) }
}

function knots(plan: OnePlan, line: number, unit: number, axis: Axis): Knot[] {
  const samples = plan.trace.lines[line]?.samples ?? []
  const curve = (plan.forecast?.curve ?? []).filter((p) => p.line === line)
  const out: Knot[] = []
  let lastX = -99
  samples.forEach((s: Sample, i) => {
    const x = axis.x(s.minute)
    const edge = i === 0 || i === samples.length - 1 || samples[i - 1]!.step !== s.step || samples[i + 1]?.step !== s.step
    if (!edge && x - lastX < 1.5) return
    lastX = x
    const half = (volume(s.volume) * unit) / 2
    const b = curve.length ? bandAt(curve, line, s.step, s.minute) : undefined
    out.push({ x, y: 0, half, low: b ? (volume(b.low) * unit) / 2 : half, high: b ? (volume(b.high) * unit) / 2 : half, celsius: s.mean })
  })
  return out
}

const outer = (k: Knot) => Math.max(k.half, k.high)

export function at(ks: Knot[], x: number): Knot | undefined {
  const i = ks.findIndex((k) => k.x >= x)
  if (i === 0) return ks[0]
  if (i < 0) return ks.at(-1)
  const [a, b] = [ks[i - 1]!, ks[i]!]
  const f = b.x > a.x ? (x - a.x) / (b.x - a.x) : 1
  const mix = (p: number, q: number) => p + (q - p) * f
  return { x, y: mix(a.y, b.y), half: mix(a.half, b.half), low: mix(a.low, b.low), high: mix(a.high, b.high), celsius: mix(a.celsius, b.celsius) }
}

const n = (v: number) => (Math.round(v * 10) / 10).toString()
export function around(ks: Knot[], half: (k: Knot) => number): string {
  const up = ks.map((k) => `${n(k.x)} ${n(k.y - half(k))}`)
  const down = [...ks].reverse().map((k) => `${n(k.x)} ${n(k.y + half(k))}`)
  return `M${[...up, ...down].join('L')}Z`
}

/** Moves names apart as little as can be. */
function spread(names: Name[], left: number, right: number) {
  const pools: { mean: number; count: number }[] = []
  names.forEach((l, k) => {
    let pool = { mean: l.x - k * APART, count: 1 }
    while (pools.length && pools.at(-1)!.mean > pool.mean) {
      const p = pools.pop()!
      const all = p.count + pool.count
      pool = { mean: (p.mean * p.count + pool.mean * pool.count) / all, count: all }
    }
    pools.push(pool)
  })
  let k = 0
  for (const p of pools) for (let i = 0; i < p.count; i++, k++) names[k]!.shown = p.mean + k * APART
  let most = Infinity
  for (const l of [...names].reverse()) { most = Math.min(most - APART, right - wide(l.text, 13) * SLANT.x); l.shown = Math.min(l.shown, most) }
  let least = left
  for (const l of names) { l.shown = Math.max(l.shown, least); least = l.shown + APART }
}

export function layout(plan: OnePlan, axis: Axis, top: number, compact: boolean): Bread {
  const size = compact ? 0.7 : 1
  const last = plan.trace.lines.length - 1
  const start = (s: PlanStep) => s.from
  let most = 1
  plan.trace.lines.forEach((l, i) => {
    const unit = i === last ? DOUGH : PREFERMENT * 1.6
    for (const s of l.samples) most = Math.max(most, (volume(s.volume) * unit) / THICKEST)
  })
  for (const p of plan.forecast?.curve ?? []) if (p.volume) most = Math.max(most, (volume(p.volume.high) * (p.line === last ? DOUGH : PREFERMENT * 1.6)) / THICKEST)
  const shrink = size / most
  const dough = knots(plan, last, DOUGH * shrink, axis)
  const mix = plan.steps.find((s) => s.do === 'mix' && !s.what)
  const mixX = mix ? axis.x(mix.from) : dough[0]?.x ?? 0

  // ribbons beside the dough's
  const sides: { strip: Strip; ends: boolean; steps: PlanStep[] }[] = []
  plan.trace.lines.slice(0, -1).forEach((l, i) => {
    const ks = knots(plan, i, PREFERMENT * shrink, axis)
    if (!ks.length) return
    const first = l.samples[0]
    sides.push({
      strip: { name: l.name, kind: 'levain', knots: ks, label: first ? `${l.name}, ${axis.celsius(first.mean)}` : l.name, labelX: 0, labelY: 0, labelEnd: false },
      ends: true, steps: plan.steps.filter((s) => s.what === l.name),
    })
  })
  const plain = (name: string, steps: PlanStep[]) => {
    if (!steps.length) return
    const from = Math.min(...steps.map(start))
    const to = Math.max(...steps.map((s) => s.to))
    const half = (PLAIN * size) / 2
    const knot = (m: number): Knot => ({ x: axis.x(m), y: 0, half, low: half, high: half, celsius: 20 })
    sides.push({ strip: { name, kind: 'plain', knots: [knot(from), knot(to)], label: name, labelX: 0, labelY: 0, labelEnd: false }, ends: true, steps })
  }
  const soaks = [...new Set(plan.steps.filter((s) => s.do === 'soak').map((s) => s.what ?? 'soaker'))]
  for (const w of soaks) plain(w, plan.steps.filter((s) => s.do === 'soak' && (s.what ?? 'soaker') === w))
  if (mix) plain('flour and water', plan.steps.filter((s) => !s.what && s.to <= mix.from + 0.5 && (s.do === 'autolyse' || s.do === 'rest')))

  // rows from the top: names, brackets, ribbons
  const names: Name[] = []
  const sorted = [...plan.steps].sort((a, b) => start(a) - start(b))
  if (!compact) {
    const several = last > 1
    for (const s of sorted) {
      const x = axis.x(start(s))
      if (start(s) < axis.from || start(s) > axis.to) continue
      if (inOven(s) && s.do !== 'load') continue
      if (s.do === 'load' && names.some((l) => l.text.endsWith(' load'))) continue
      const near = names.length && x - names.at(-1)!.x < APART
      if (near && ['rest', 'bench rest', 'bake', 'retard'].includes(s.do)) continue
      const word = s.do === 'build' && several && s.what ? `build ${s.what}` : s.do
      names.push({ step: s.step, x, shown: x, text: `${axis.time(start(s))} ${word}`, idle: s.hands_on <= 0, lead: '' })
    }
    if (plan.ready <= axis.to) { const x = axis.x(plan.ready); names.push({ step: -1, x, shown: x, text: `${axis.time(plan.ready)} ready`, idle: false, lead: '' }) }
    spread(names, 4, axis.right)
  }
  const tall = compact ? 0 : Math.max(64, ...names.map((l) => wide(l.text, 13) * SLANT.y))
  const anchor = top + tall + 4
  const rows: number[] = []
  const brackets: Bracket[] = []
  const slack = plan.slack.filter((s) => s.to - s.from > 0.5).map((s) => {
    const step = plan.steps.find((p) => p.step === s.step)
    return { from: axis.x(s.from), to: axis.x(s.to), at: step ? axis.x(start(step)) : axis.x(s.from) }
  }).sort((a, b) => a.from - b.from)
  for (const s of slack) {
    let row = rows.findIndex((end) => s.from > end + 3)
    if (row < 0) { row = rows.length; rows.push(s.to) } else rows[row] = s.to
    brackets.push({ ...s, y: Math.min(row, 5) })
  }
  const elbow = compact ? anchor : anchor + 22
  const ribbons = elbow + 8 + Math.min(6, rows.length) * 9 + 4
  for (const b of brackets) b.y = ribbons - 4 - b.y * 9
  const thickest = 2 * Math.max((DOUGH * shrink) / 2, ...dough.map(outer))
  const heights = sides.map((s) => 2 * Math.max(2, ...s.strip.knots.map(outer)) + (compact ? 8 : 22))
  const beside = heights.reduce((a, b) => a + b, 0)
  const middle = ribbons + Math.max(thickest, beside) / 2
  for (const k of dough) k.y = middle

  let y = middle - beside / 2
  const joined = Math.max(1, sides.length)
  const full = (dough[0]?.half ?? 4) * 2
  let edge = middle - full / 2
  sides.forEach((side, i) => {
    const height = heights[i]!
    const centre = y + (compact ? 4 : 16) + (height - (compact ? 8 : 22)) / 2
    y += height
    const ks = side.strip.knots
    for (const k of ks) k.y = centre
    const into = full / joined
    const goal = { y: edge + into / 2, half: Math.max(1, into / 2) }
    edge += into
    const [first, end] = [ks[0]!, ks.at(-1)!]
    if (dough.length && Math.abs(end.x - mixX) <= 3) {
      const bend = Math.max(0, Math.min(34, (end.x - first.x) * 0.7))
      const from = end.x - bend
      const tail: Knot[] = []
      for (let j = 0; j <= 12; j++) {
        const f = j / 12
        const ease = f * f * (3 - 2 * f)
        const k = at(ks, from + bend * f)
        if (!k) continue
        const towards = (h: number) => h + (goal.half - h) * ease
        tail.push({ x: from + bend * f, y: k.y + (goal.y - k.y) * ease, half: towards(k.half), low: towards(k.low), high: towards(k.high), celsius: k.celsius })
      }
      side.strip.knots = [...ks.filter((k) => k.x < from), ...tail]
    }
    const room = wide(side.strip.label, 13)
    const flat = end.x - first.x
    const beforeEdge = first.x - room - 8 < 0
    side.strip.labelEnd = flat < room + 10 && !beforeEdge
    side.strip.labelX = side.strip.labelEnd ? first.x - 7 : first.x + 3
    side.strip.labelY = side.strip.labelEnd ? centre + 4 : centre - Math.max(...ks.filter((k) => k.x < first.x + room).map(outer), first.half) - 5
  })

  const strips: Strip[] = sides.map((s) => s.strip)
  if (dough.length) strips.push({ name: 'dough', kind: 'dough', knots: dough, label: '', labelX: 0, labelY: 0, labelEnd: false })
  const stripOf = (s: PlanStep) => sides.find((x) => x.steps.includes(s))?.strip.knots ?? dough

  for (const l of names) {
    const s = plan.steps.find((p) => p.step === l.step)
    const k = s ? at(stripOf(s), l.x) : at(dough, l.x)
    const end = k ? k.y - outer(k) - 4 : middle
    l.lead = `M${n(l.shown)} ${n(anchor)}L${n(l.x)} ${n(Math.min(elbow, end))}L${n(l.x)} ${n(end)}`
  }
  const ticks: Tick[] = []
  for (const s of plan.steps) {
    if (s.do === 'preheat' || s.do === 'cool' || (inOven(s) && s.do !== 'load')) continue
    const k = at(stripOf(s), axis.x(start(s)))
    if (!k) continue
    ticks.push({ step: s.step, x: axis.x(start(s)), top: k.y - outer(k) - 4, bottom: k.y + outer(k) + 4, hands: s.hands_on > 0, title: s.title })
  }

  const divide = plan.steps.find((s) => s.do === 'divide')
  const splits: string[] = []
  if (divide) {
    const from = axis.x(divide.from)
    const ks = dough.filter((k) => k.x >= from)
    if (ks.length > 1) splits.push('M' + ks.map((k) => `${n(k.x)} ${n(k.y)}`).join('L'))
  }

  const end = dough.at(-1)
  const box = (steps: PlanStep[]) => {
    if (!steps.length) return null
    const from = Math.min(...steps.map((s) => s.from))
    const to = Math.max(...steps.map((s) => s.to))
    const half = Math.max(9, end?.half ?? 9)
    return { x: axis.x(from), width: axis.x(to) - axis.x(from), y: middle - half, height: 2 * half }
  }
  const oven = box(plan.steps.filter(inOven))
  const cooling = box(plan.steps.filter((s) => s.do === 'cool'))

  const low = middle + Math.max(thickest, beside) / 2
  const temps: Bread['temps'] = []
  if (!compact) {
    const s = plan.trace.lines[last]?.samples ?? []
    const wanted: { rank: number; s: Sample }[] = []
    if (s.length) wanted.push({ rank: 0, s: s[0]! }, { rank: 1, s: s.at(-1)! })
    for (let i = 1; i < s.length; i++) {
      if (s[i]!.place !== s[i - 1]!.place) wanted.push({ rank: 2, s: s[i - 1]! })
      else if (s[i]!.step !== s[i - 1]!.step) wanted.push({ rank: 3, s: s[i - 1]! })
    }
    wanted.sort((a, b) => a.rank - b.rank || a.s.minute - b.s.minute)
    for (const w of wanted) {
      const x = axis.x(w.s.minute)
      if (w.s.minute < axis.from || w.s.minute > axis.to) continue
      if (temps.some((t) => Math.abs(t.x - x) < 46)) continue
      if (w.rank === 3 && temps.some((t) => Math.abs(t.x - x) < 140 && Math.abs(t.celsius - w.s.mean) < 2)) continue
      temps.push({ x, y: low + 15, celsius: w.s.mean })
    }
  }
  const handsY = compact ? low + 10 : low + 34
  const hands = plan.steps.filter((s) => s.hands_on > 0).map((s) => ({ x: axis.x(start(s)), width: Math.max(2, axis.x(start(s) + s.hands_on) - axis.x(start(s))), y: handsY }))
  return { strips, names, anchor, ticks, brackets, temps, splits, oven, cooling, hands, handsY, top, bottom: handsY + (compact ? 6 : 10), middle }
}
