/** Colour of a temperature: an even scale from dark blue to light yellow, 2 to 34 °C, the same in every picture. */
const STOPS = [[11, 42, 91], [65, 80, 122], [123, 123, 120], [184, 167, 95], [244, 221, 79]] as const
export function tint(celsius: number): string {
  const share = Number.isFinite(celsius) ? Math.min(1, Math.max(0, (celsius - 2) / 32)) : 0.5
  const at = share * 4
  const i = Math.min(3, Math.floor(at))
  const c = STOPS[i]!.map((a, k) => Math.round(a + (STOPS[i + 1]![k]! - a) * (at - i)))
  return '#' + c.map((v) => v.toString(16).padStart(2, '0')).join('')
}
