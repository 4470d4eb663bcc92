import { untrack } from 'svelte'

/** What is asked and not answered yet: a line at the top shows it, and tests wait for its end. */
export const busy = $state({ n: 0 })

export async function during<T>(work: Promise<T>): Promise<T> {
  // whoever asks does not ask again because something else is asked
  untrack(() => busy.n++)
  try { return await work } finally { untrack(() => busy.n--) }
}
