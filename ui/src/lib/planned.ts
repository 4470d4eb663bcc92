/** Plans as the notebook keeps them: small enough to send to a phone, enough to draw and to follow. */
import { iso, moment } from './clock'
import type { FermentDocument, OnePlan, PlanDocument, PlanStep, StoredPlan } from './documents'
import { list, read, str } from './toml'

const KEEP = new Set(['minute', 'step', 'place', 'air', 'core', 'mean', 'rise', 'volume', 'ph', 'gas_loss'])
const round = (x: number) => (Number.isInteger(x) ? x : Number(x.toPrecision(4)))

/** The same plan with rounded numbers and without what no page shows. */
export function slim(plan: OnePlan): OnePlan {
  const lines = plan.trace.lines.map((l) => {
    let last = -99
    const samples = l.samples.filter((s, i) => {
      const edge = i === 0 || i === l.samples.length - 1 || l.samples[i - 1]!.step !== s.step || l.samples[i + 1]?.step !== s.step
      const due = edge || s.minute - last >= 10
      if (due) last = s.minute
      return due
    })
    return { ...l, samples: samples.map((s) => Object.fromEntries(Object.entries(s).filter(([k]) => KEEP.has(k)))) }
  })
  const text = JSON.stringify({ ...plan, trace: { lines } }, (_, v: unknown) => (typeof v === 'number' ? round(v) : v))
  return JSON.parse(text) as OnePlan
}

export interface Planned { stored: StoredPlan; document: PlanDocument; plan: OnePlan; base: number; zone: string | null; title: string }

export function readPlan(stored: StoredPlan): Planned | null {
  try {
    const document = JSON.parse(stored.document) as PlanDocument
    const plan = document.plans?.[0]
    if (!plan) return null
    return { stored, document, plan, base: moment(document.now, document.zone), zone: document.zone, title: document.title ?? 'Bread' }
  } catch {
    return null
  }
}

const stop = (t: string) => (t === '' || /[.…]$/.test(t) ? t : t + '.')
const big = (t: string) => (t ? t[0]!.toUpperCase() + t.slice(1) : '')
/** What to do, without repeating the title that stands above it. */
export function act(s: PlanStep): string {
  const rest = s.act.startsWith(s.title) ? s.act.slice(s.title.length).replace(/^[\s:,.]+/, '') : s.act
  return stop(big(rest))
}
/** When it is over: the cue. */
export const look = (s: PlanStep): string => (s.look_for === '' ? '' : stop(/^until/i.test(s.look_for) ? `Go on ${s.look_for}` : big(s.look_for)))

/** The newest plan made for a bake under way, else the one it began with. */
export function newest(bake: { id: string; plan: string | null }, plans: StoredPlan[]): Planned | null {
  const all = plans.map(readPlan).filter((p): p is Planned => p !== null)
  const later = all.filter((p) => p.document.follows === bake.id).sort((a, b) => b.stored.at - a.stored.at || (a.stored.id < b.stored.id ? 1 : -1))
  return later[0] ?? all.find((p) => p.stored.id === bake.plan) ?? null
}

/** What happened so far, as `plan --from` reads it. */
export function halfDone(zone: string, did: { step: number; at: number }[], measured: { at: number; kind: string; of: string; value: number | null }[], plan: OnePlan): string {
  /** When a dough was made; before, nothing of it can have been read. */
  const made = (of: string) => Math.min(...did.filter((d) => plan.steps.some((s) => s.step === d.step && (of === 'dough' ? s.do === 'mix' : s.what === of))).map((d) => d.at))
  return [
    ...did.map((d) => `[[did]]\nstep = "${d.step}"\nat = "${iso(d.at, zone)}"`),
    ...measured.filter((m) => m.value !== null && ['rise', 'ph', 'temperature'].includes(m.kind) && plan.trace.lines.some((l) => l.name === m.of) && made(m.of) <= m.at).map((m) =>
      `[[measured]]\nof = ${JSON.stringify(m.of)}\nat = "${iso(m.at, zone)}"\n${m.kind} = ${m.kind === 'rise' ? `"${m.value} %"` : m.kind === 'ph' ? Number(m.value).toFixed(2) : `"${m.value} °C"`}`),
  ].join('\n') + '\n'
}

/** Steps that ask for somebody, in the order they come. */
export const calls = (plan: OnePlan): PlanStep[] =>
  plan.steps.filter((s) => s.hands_on > 0 || s.do === 'load' || s.do === 'cool').sort((a, b) => a.from - b.from || a.step - b.step)

/** How the clock of a bake stands against its plan: later steps move along with the last one done. */
export function late(plan: OnePlan, base: number, did: { step: number; at: number }[]): number {
  let newest: { from: number; by: number } | null = null
  for (const d of did) {
    const s = plan.steps.find((p) => p.step === d.step)
    if (!s || s.do === 'preheat') continue
    if (!newest || s.from >= newest.from) newest = { from: s.from, by: (d.at - base) / 60_000 - s.from }
  }
  return newest ? Math.round(newest.by) : 0
}

/** A bake begun without a plan: the forecast of its recipe from the moment it began. */
export function fromForecast(doc: FermentDocument, recipe: string): { plan: OnePlan; base: number; zone: string | null } {
  const table = list(read(recipe), 'step')
  const spans = doc.trace.lines.flatMap((l) => l.spans.map((s) => ({ ...s, line: l.name })))
  const steps: PlanStep[] = spans.map((s) => {
    const t = table[s.step - 1]
    const what = str(t, 'what')
    return {
      step: s.step, do: str(t, 'do'), place: str(t, 'place') || 'room', what: what || null, from: s.from, to: s.to, clock: '', hands_on: 0,
      title: big(`${str(t, 'do')} ${what}`.trim()), act: '', look_for: str(t, 'until') && `until ${str(t, 'until')}`, note: str(t, 'note'), may_start: null, cautions: [], result: null,
    }
  })
  const plan: OnePlan = {
    path: doc.path, aims: [], why: '', cost: 0, ready: Math.max(...spans.map((s) => s.to)), steps, slack: [], trace: doc.trace,
    forecast: doc.forecast ?? null, notes: doc.notes, oven: [],
  }
  return { plan, base: moment(doc.now, doc.zone), zone: doc.zone }
}
