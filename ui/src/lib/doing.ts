/** What is said of a bake while it runs: begun from a plan, steps done, readings. */
import { del, device, put } from './api.svelte'
import { key } from './keys'
import type { Planned } from './planned'

export async function begin(p: Planned): Promise<string> {
  const id = key()
  await put(`/bakes/${id}`, {
    id, recipe_version: p.stored.recipe_version, kitchen_version: p.stored.kitchen_version, plan: p.stored.id, culture: p.stored.culture,
    began: Date.now(), finished: null, zone: p.stored.zone, crumb: null, crust: null, oven_spring: null, taste: null, note: '',
  })
  return id
}
export const didStep = (bake: string, step: number, at = Date.now()) => put(`/bakes/${bake}/did/${key()}`, { step, at })
export const undidStep = (bake: string, did: string) => del(`/bakes/${bake}/did/${did}`)
export const measured = (m: { bake?: string; culture?: string; kind: string; of: string; value: number | null; words?: string; photo?: string | null; at?: number }) => {
  const id = key()
  return put(`/measurements/${id}`, {
    id, bake: m.bake ?? null, culture: m.culture ?? null, at: m.at ?? Date.now(), kind: m.kind, of: m.of, value: m.value, error: null,
    photo: m.photo ?? null, words: m.words ?? '', device,
  })
}
