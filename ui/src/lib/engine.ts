/** Questions to the engine: in a worker beside the page, by the server where that cannot be had. */
import { ask as askServer } from './api.svelte'
import { Refused, type BakeDocument, type FermentDocument, type FormulaDocument, type OnePlan, type PlanDocument, type Problem, type WaterDocument } from './documents'

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
export async function ask<T>(question: Record<string, unknown>, prefer: 'page' | 'server' = 'page', progress?: string): Promise<T> {
  if (prefer === 'server') {
    try {
      return read<T>(await askServer(question, progress))
    } catch (e) {
      if (e instanceof Refused) throw e
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

export const formula = (recipe: string, kitchen: string | null, scale: Scale = {}, was?: string) =>
  ask<FormulaDocument>({ ask: 'formula', recipe, ...(kitchen ? { kitchen } : {}), ...scale, ...(was ? { was } : {}) })
export const water = (recipe: string, kitchen: string | null) => ask<WaterDocument>({ ask: 'water', recipe, ...(kitchen ? { kitchen } : {}) })
export const ferment = (recipe: string, kitchen: string | null, when: When) => ask<FermentDocument>({ ask: 'ferment', recipe, ...(kitchen ? { kitchen } : {}), ...when })
export const bake = (recipe: string, kitchen: string | null, pieces?: number) =>
  ask<BakeDocument>({ ask: 'bake', recipe, ...(kitchen ? { kitchen } : {}), ...(pieces ? { pieces } : {}) })
export const plan = (recipes: string[], kitchen: string | null, ready: string, when: When, more: Record<string, unknown> = {}, progress?: string) =>
  ask<PlanDocument>({ ask: 'plan', ...(recipes.length === 1 ? { recipe: recipes[0] } : { recipes }), ...(kitchen ? { kitchen } : {}), ready, ...when, ...more }, 'server', progress)
export const check = (recipe: string) => ask<{ problems?: Problem['problems'] }>({ ask: 'check', recipe })

const verbs = (p: OnePlan, step: number) => p.steps.find((s) => s.step === step)

/** The same plan with one step begun at another minute, and what follows from it. */
export async function move(plan: OnePlan, recipe: string, kitchen: string | null, document: PlanDocument, step: number, minute: number): Promise<OnePlan> {
  const spans = plan.steps.map((s) => ({ step: s.step, from: s.from, to: s.to }))
  const question = {
    ask: 'move', recipe, ...(kitchen ? { kitchen } : {}), now: document.now, zone: document.zone ?? 'UTC',
    path: plan.path, picked: plan.picked ?? null, schedule: spans, step, to: minute,
  }
  const got = await ask<OnePlan | PlanDocument>(question)
  const one = 'plans' in got ? got.plans?.[0] : (got as OnePlan)
  if (!one?.steps) throw new Error(`${verbs(plan, step)?.title ?? 'This step'} cannot begin then: nothing fits.`)
  return { ...one, aims: one.aims?.length ? one.aims : plan.aims, why: one.why || plan.why }
}
