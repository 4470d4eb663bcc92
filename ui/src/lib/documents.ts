/** The engine's documents (docs/json.md), as far as these pages read them. */
export interface Band { low: number; mid: number; high: number }
export interface Sample { minute: number; step: number; place: string; air: number; core: number; mean: number; rise: number; volume: number; ph: number; gas_loss: number }
export interface Span { step: number; from: number; to: number }
export interface Line { name: string; spans: Span[]; samples: Sample[] }
export interface Trace { lines: Line[] }
export interface CurvePoint { line: number; step: number; minute: number; core: Band; mean?: Band; rise: Band; volume?: Band; ph: Band }
export interface StepForecast { step: number; core: Band; rise: Band; ph: Band; in_window: number | null; past_best: number; by_cue: Band | null }
export interface Forecast { kitchens: number; curve: CurvePoint[]; steps: StepForecast[]; all_windows: number }
export interface PlanStep {
  step: number; do: string; place: string; what: string | null; from: number; to: number; clock: string; hands_on: number
  title: string; act: string; look_for: string; note: string; may_start: [number, number] | null; cautions: string[]; result: Sample | null
}
export interface OnePlan {
  path: string; aims: string[]; why: string; cost: number; ready: number; steps: PlanStep[]; slack: Span[]; trace: Trace
  /** The recipe as this oven needs it. */
  recipe?: string
  forecast?: Forecast | null; notes: string[]; oven: string[]; picked?: Record<string, number | boolean | null>
}
export interface Breach { breach: 'late' | 'hours' | 'window'; by?: number; step?: number; at?: number; why?: string; reached?: number | null }
export interface Remedy { words: string; plan: OnePlan; breaches: Breach[] }
export interface PlanDocument {
  /** Kept in the notebook: the bake this plan goes on with. */
  follows?: string
  verb: 'plan'; title?: string; kitchen: string; now: string; zone: string | null; ready_by?: number; oven?: string[]; plans?: OnePlan[]
  conflict?: string[] | string; remedies?: Remedy[]
  breads?: { title: string; ready_by: number }[]
  joint_plans?: { aims: string[]; why: string; plans: OnePlan[]; in_oven: { bread: number; from: number; to: number }[] }[]
  clash?: { overlaps: { words: string }[]; ways_out: { sooner?: number; bread?: number; later?: number }[] }
}
export interface Amounts { flours: number[]; water: number; salt: number; yeast: number; others: number[] }
export interface Build { seed: number; previous: number; fresh: Amounts }
export interface Sheet {
  total: Amounts; preferments: { name: string; contents: Amounts; builds: Build[]; kept_back: number }[]
  soakers: { name: string; contents: Amounts }[]; final_dough: Amounts; bassinage: number; figures: Record<string, number>
}
export interface FormulaDocument { verb: 'formula'; title: string; flours: string[]; others: string[]; sheet: Sheet; warnings: string[]; changes: { what: string; was: string; is: string }[] | null }
export interface Place { at: string; text: string }
export interface ImportDocument {
  verb: 'import'; title: string; recipe: string; spoons: 'us' | 'metric' | 'au'
  assumptions: { place: Place | null; field: string; assumed: string; sure: number; sure_words: string; least: number | null; most: number | null }[]
  not_understood: { place: Place; why: string }[]
  suggestions: { place: Place; sentence: string; do: string | null; written: string }[]
}
export interface BakeSample {
  minute: number; oven: number; wall: number; hearth: number | null; core: number; mean: number; top: number; base: number; loss: number
  dry_zone_mm: number; crust_mm: number; lightness: number; base_lightness: number; browning: number; colour: string
}
/** Pieces on a hearth from its left front corner, mm; `loads` is null when not one fits. */
export interface Loads { pieces: number; per_load: number; loads: number | null; width: number; depth: number; places: { x: number; y: number; across: number; deep: number }[] }
export interface BakeDocument {
  verb: 'bake'; title: string; kitchen: string; path: string; loading: { mass: number; core: number }; samples: BakeSample[]
  programme: { time: number; set_point: number | null; steam: boolean; lid: boolean; door: string; vent: boolean; fan: boolean }[]
  done: { core_target: number; core: number | null; colour: number | null; loss: number | null; all: number | null } | null
  cooling_loss: number; loads: Loads | null; notes: string[]; cautions: string[]
  forecast?: { core: Band; core_done: Band | null; loss: Band; lightness: Band; crust_mm: Band; done: number | null; curve: { minute: number; core: Band; loss: Band; lightness: Band; crust_mm: Band }[] } | null
}
export interface FermentDocument { verb: 'ferment'; title: string; kitchen: string; now: string; zone: string | null; path: string; trace: Trace; slack: Span[]; forecast?: Forecast | null; notes: string[] }

/** What is wrong, RFC 9457. */
export interface ProblemPlace { line: number; column: number; field: string; message: string; hint: string | null }
export interface Problem { title: string; detail: string; status?: number; field?: string | null; hint?: string | null; problems?: ProblemPlace[] }
export class Refused extends Error {
  problem: Problem
  constructor(problem: Problem) {
    super(problem.detail || problem.title)
    this.problem = problem
  }
}
export const inWords = (e: unknown): string =>
  e instanceof Refused ? [e.problem.detail || e.problem.title, e.problem.hint].filter(Boolean).join(' – ') : e instanceof Error ? e.message : String(e)

/** What the notebook keeps. */
export interface Titled { id: string; current: string; title: string; at: number; versions: number; last_baked: number | null; put_away: boolean; demo: boolean }
export interface Version { id: string; recipe?: string; kitchen?: string; parent: string | null; at: number; title: string; note: string; text: string; demo: boolean }
export interface Whole { version: Version; tree: { id: string; parent: string | null; at: number; title: string; note: string }[] }
export interface Culture { id: string; name: string; flour: string; hydration: number; note: string; put_away: boolean; demo?: boolean }
export interface Feed { id: string; culture: string; at: number; zone: string; seed: number; flour: number; water: number; temperature: number | null; place: string; note: string; demo?: boolean }
export interface StoredPlan { id: string; recipe_version: string; kitchen_version: string; culture: string | null; at: number; ready: number; zone: string; document: string; demo?: boolean }
export interface Bake {
  id: string; recipe_version: string; kitchen_version: string; plan: string | null; culture: string | null; began: number; finished: number | null; zone: string
  crumb: string | null; crust: string | null; oven_spring: string | null; taste: string | null; note: string; demo?: boolean
}
export interface BakeLine { bake: Bake; title: string; kitchen: string; photo: string | null }
export interface Did { id: string; bake: string; step: number; at: number }
export interface Measurement {
  id: string; bake: string | null; culture: string | null; at: number; kind: string; of: string; value: number | null; error: number | null
  photo: string | null; words: string; device: string; demo?: boolean
}
export interface WholeBake { bake: Bake; title: string; kitchen: string; did: Did[]; measured: Measurement[]; annotations: { id: string; at: number; words: string; photo: string | null }[] }
export interface Change { revision: number; at: number; who: string; what: string; undoes: number | null; undone_by: number | null }
export interface Page<T> { items: T[]; next: string | null }
export interface Notebook { revision: number; has_demo: boolean; is_new: boolean; place: string; version: number | string }
