/** Questions to the engine: in a worker beside the page, by the server where that cannot be had. */
import { ask as askServer } from './api.svelte'
import { during } from './busy.svelte'
import { iso, ownZone, shifts } from './clock'
import { Refused, type BakeDocument, type FermentDocument, type Forecast, type FormulaDocument, type ImportDocument, type OnePlan, type PlanDocument, type Problem, type Span, type Trace } from './documents'
import { units } from './units.svelte'

let worker: Worker | null = null
let here = true
let count = 0
const open = new Map<number, { ok: (v: string) => void; no: (e: unknown) => void }>()

function inPage(question: string): Promise<string> {
  worker ??= (() => {
    const w = new Worker(new URL('./worker.ts', import.meta.url), { type: 'module' })
    w.onmessage = (e: MessageEvent<{ n: number; answer?: string; fault?: string }>) => {
      const o = open.get(e.data.n)
      open.delete(e.data.n)
      if (e.data.answer === undefined) o?.no(new Error(e.data.fault))
      else o?.ok(e.data.answer)
    }
    w.onerror = () => {
      here = false
      for (const o of open.values()) o.no(new Error('no engine here'))
      open.clear()
    }
    return w
  })()
  return new Promise((ok, no) => {
    const n = ++count
    open.set(n, { ok, no })
    worker!.postMessage({ n, question })
  })
}

function read<T>(answer: unknown): T {
  const a = answer as { verb?: string; problem?: Problem; detail?: string; title?: string }
  if (a && typeof a === 'object') {
    if (a.problem) throw new Refused(a.problem)
    if (a.verb === undefined && typeof a.detail === 'string') throw new Refused(a as Problem)
  }
  return answer as T
}

/** Any question. Long ones (`plan`) go to the server first, which has more cores. */
export const ask = <T>(question: Record<string, unknown>, prefer: 'page' | 'server' = 'page', progress?: string): Promise<T> =>
  during(answered<T>(question, prefer, progress))

async function answered<T>(question: Record<string, unknown>, prefer: 'page' | 'server', progress?: string): Promise<T> {
  if (prefer === 'server') {
    try {
      return read<T>(await askServer(question, progress))
    } catch (e) {
      // an older server has no engine to ask
      if (e instanceof Refused && e.problem.status !== 404) throw e
    }
  }
  if (here && globalThis.Worker && globalThis.WebAssembly) {
    let answer: string | null = null
    try {
      answer = await inPage(JSON.stringify(question))
    } catch { here = false }
    if (answer !== null) return read<T>(JSON.parse(answer))
  }
  return read<T>(await askServer(question, progress))
}

export interface Scale { pieces?: number; flour?: string; dough?: string; starter?: string; fill_hearth?: boolean }
export interface When { now: string; zone: string }

const home = (kitchen: string | null) => (kitchen ? { kitchen } : {})
const said = () => (units.us ? { units: 'us' } : {})
const much = (scale: Scale) => (Object.keys(scale).length ? { scale } : {})
const when = (w: When) => ({ now: w.now, zone: w.zone, shifts: shifts(w.now, w.zone) })
const present = (): When => ({ now: iso(Date.now(), ownZone()), zone: ownZone() })

export const formula = (recipe: string, kitchen: string | null, scale: Scale = {}, diff?: string) =>
  ask<FormulaDocument>({ ask: 'formula', recipe, ...home(kitchen), ...said(), ...much(scale), ...(diff ? { diff } : {}) })
/** Ingredient lines, JSON-LD or a saved page, as a recipe with all that had to be assumed. */
export const bringIn = (text: string, spoons: string) => ask<ImportDocument>({ ask: 'import', text, ...(spoons ? { spoons } : {}) })
export const ferment = (recipe: string, kitchen: string | null, at: When) =>
  ask<FermentDocument>({ ask: 'ferment', recipe, ...home(kitchen), ...said(), ...when(at) })
export const bake = (recipe: string, kitchen: string | null) =>
  ask<BakeDocument>({ ask: 'bake', recipe, ...home(kitchen), ...said(), ...when(present()) })
export const plan = (recipes: string[], kitchen: string | null, ready: string, at: When, progress?: string, from?: string) =>
  ask<PlanDocument>({
    ask: 'plan', ...(recipes.length === 1 ? { recipe: recipes[0] } : { recipes: recipes.map((recipe) => ({ recipe })) }),
    ...home(kitchen), ...said(), ready, ...when(at), ...(from ? { from } : {}),
  }, 'server', progress)

/** A step that may not go there, and how far it may. */
export class TooFar extends Error {
  nearest: number
  constructor(words: string, nearest: number) {
    super(words)
    this.nearest = nearest
  }
}

interface Moved {
  steps: { step: number; from: number; to: number; clock: string }[] | null; ready: number; slack: Span[]; trace: Trace; forecast: Forecast | null; notes: string[]
  refused: { limit: string; step: number | null; words: string; nearest: number; clock: string } | null
}

/** The same plan with one step begun at another minute, and what follows from it, in so many kitchens; refused in words. */
export async function move(plan: OnePlan, recipe: string, kitchen: string | null, document: PlanDocument, step: number, minute: number, kitchens = 24): Promise<OnePlan> {
  const zone = document.zone ?? 'UTC'
  const got = await ask<Moved>({
    ask: 'move', recipe: plan.recipe ?? recipe, ...home(kitchen), ...said(), ...when({ now: document.now, zone }), path: plan.path,
    spans: plan.steps.map((s) => ({ step: s.step, from: s.from, to: s.to })), step, begin: minute, kitchens,
  })
  if (got.refused || !got.steps) {
    const r = got.refused
    throw r ? new TooFar(`${big(r.words)}. The nearest is ${r.clock.slice(11, 16)}.`, r.nearest) : new Error('This cannot be moved.')
  }
  const steps = plan.steps.map((s) => {
    const m = got.steps!.find((x) => x.step === s.step)
    const slack = got.slack.find((x) => x.step === s.step)
    const result = got.trace.lines.flatMap((l) => l.samples).filter((x) => x.step === s.step).at(-1) ?? null
    return m ? { ...s, from: m.from, to: m.to, clock: m.clock, may_start: slack ? ([slack.from, slack.to] as [number, number]) : null, result: result ?? s.result } : s
  })
  return { ...plan, steps, ready: got.ready, slack: got.slack, trace: got.trace, forecast: got.forecast, notes: got.notes }
}
const big = (t: string) => (t ? t[0]!.toUpperCase() + t.slice(1) : '')

/** Whether a question can be asked at all. */
export async function knows(verb: string): Promise<boolean> {
  try {
    await ask({ ask: verb }, 'server')
    return true
  } catch (e) {
    return e instanceof Refused && e.problem.field !== 'ask' && e.problem.status !== 404
  }
}
