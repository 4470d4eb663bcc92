/** Metric or US, for what is shown. Everything is kept in grams, °C and minutes. */
const kept = globalThis.localStorage?.getItem('units')
export const units = $state({ us: kept === 'us' })

export function switchUnits() {
  units.us = !units.us
  localStorage.setItem('units', units.us ? 'us' : 'metric')
}

/** Narrow no-break space between a number and its unit. */
const S = '\u202f'
const fixed = (x: number, digits: number) => x.toFixed(digits).replace(/^-0(?:\.0+)?$/, '0').replace('-', '−')
const known = (x: number | null | undefined): x is number => typeof x === 'number' && Number.isFinite(x)

export function celsius(x: number | null | undefined, digits = 0): string {
  if (!known(x)) return '–'
  return units.us ? `${fixed(x * 1.8 + 32, digits)}${S}°F` : `${fixed(x, digits)}${S}°C`
}
export function degree(x: number): number {
  return units.us ? x * 1.8 + 32 : x
}
export function fromDegree(x: number): number {
  return units.us ? (x - 32) / 1.8 : x
}
export const degreeUnit = () => (units.us ? '°F' : '°C')

export function grams(x: number | null | undefined): string {
  if (!known(x)) return '–'
  if (!units.us) return `${fixed(x, Math.abs(x) < 100 && Math.abs(x - Math.round(x)) > 0.04 ? 1 : 0)}${S}g`
  const oz = x / 28.349523125
  return oz >= 16 ? `${Math.floor(oz / 16)}${S}lb ${fixed(oz % 16, 1)}${S}oz` : `${fixed(oz, oz < 1 ? 2 : 1)}${S}oz`
}
export function percent(x: number | null | undefined, digits = 0): string {
  return known(x) ? `${fixed(x, digits)}${S}%` : '–'
}
export function number(x: number | null | undefined, digits = 0): string {
  return known(x) ? fixed(x, digits) : '–'
}
export function duration(min: number | null | undefined): string {
  if (!known(min)) return '–'
  const m = Math.round(Math.abs(min))
  const [d, h, r] = [Math.floor(m / 1440), Math.floor((m % 1440) / 60), m % 60]
  const parts = [d && `${d}${S}d`, h && `${h}${S}h`, (r || (!d && !h)) && `${r}${S}min`].filter(Boolean)
  return (min < -0.5 ? '−' : '') + parts.join(' ')
}
/** As duration, without a list of three. */
export function short(min: number): string {
  const m = Math.round(min / 5) * 5
  return duration(Math.abs(min) < 10 ? Math.round(min) : m)
}
