/** Wall-clock time in a place; elapsed minutes of a document against moments. */
const makers = new Map<string, Intl.DateTimeFormat>()

function maker(zone: string | null): Intl.DateTimeFormat {
  const name = zone ?? 'UTC'
  let made = makers.get(name)
  if (!made) {
    const options: Intl.DateTimeFormatOptions = {
      timeZone: name, hourCycle: 'h23', year: 'numeric', month: '2-digit', day: '2-digit',
      hour: '2-digit', minute: '2-digit', second: '2-digit', weekday: 'short',
    }
    try {
      made = new Intl.DateTimeFormat('en-GB', options)
    } catch {
      made = new Intl.DateTimeFormat('en-GB', { ...options, timeZone: 'UTC' })
    }
    makers.set(name, made)
  }
  return made
}

export interface Local { year: number; month: number; day: number; hour: number; minute: number; second: number; weekday: number }
const DAYS = ['Mon', 'Tue', 'Wed', 'Thu', 'Fri', 'Sat', 'Sun']
const MONTHS = ['Jan', 'Feb', 'Mar', 'Apr', 'May', 'Jun', 'Jul', 'Aug', 'Sep', 'Oct', 'Nov', 'Dec']

/** Local parts of a moment; weekday from Monday, 0. */
export function local(at: number, zone: string | null): Local {
  const got: Record<string, string> = {}
  for (const p of maker(zone).formatToParts(at)) got[p.type] = p.value
  return {
    year: +got['year']!, month: +got['month']!, day: +got['day']!, hour: +got['hour']!, minute: +got['minute']!,
    second: +got['second']!, weekday: Math.max(0, DAYS.indexOf(got['weekday']!)),
  }
}

function shift(at: number, zone: string | null): number {
  const l = local(at, zone)
  return Date.UTC(l.year, l.month - 1, l.day, l.hour, l.minute, l.second) - Math.floor(at / 1000) * 1000
}

/** Moment of a local "2026-11-26T18:00" in a place. */
export function moment(text: string, zone: string | null): number {
  const naive = Date.parse((text.length === 16 ? text + ':00' : text.slice(0, 19)) + 'Z')
  if (!Number.isFinite(naive)) return Number.NaN
  let at = naive - shift(naive, zone)
  at = naive - shift(at, zone)
  return at
}

const two = (n: number) => String(n).padStart(2, '0')
export function iso(at: number, zone: string | null): string {
  const l = local(at, zone)
  return `${l.year}-${two(l.month)}-${two(l.day)}T${two(l.hour)}:${two(l.minute)}:00`
}
export function time(at: number, zone: string | null): string {
  const l = local(at, zone)
  return `${two(l.hour)}:${two(l.minute)}`
}
export function day(at: number, zone: string | null): string {
  const l = local(at, zone)
  return `${DAYS[l.weekday]} ${l.day} ${MONTHS[l.month - 1]}`
}
export function dayTime(at: number, zone: string | null): string {
  const l = local(at, zone)
  return `${DAYS[l.weekday]} ${two(l.hour)}:${two(l.minute)}`
}
export function ownZone(): string {
  return Intl.DateTimeFormat().resolvedOptions().timeZone || 'UTC'
}
/** The next such weekday at an hour, at least some hours ahead, as "2026-11-28T18:00". */
export function next(weekday: number, hour: number, zone: string, ahead = 20): string {
  const now = Date.now()
  for (let d = 0; d < 15; d++) {
    const at = now + d * 86_400_000
    const l = local(at, zone)
    if (l.weekday !== weekday) continue
    const text = `${l.year}-${two(l.month)}-${two(l.day)}T${two(hour)}:00`
    if (moment(text, zone) - now >= ahead * 3_600_000) return text
  }
  return iso(now + 86_400_000, zone).slice(0, 16)
}

export type Blocked = 'asleep' | 'away' | 'never'
export interface Hours { awake?: string[]; home?: string[]; never?: string[] }
const NAMES = DAYS.map((d) => d.toLowerCase())

/** Minutes of the week, Monday 0, covered by a list of "mon-fri 06:30-23:00". */
function week(list: string[] | undefined): Uint8Array | null {
  if (!list?.length) return null
  const on = new Uint8Array(7 * 1440)
  for (const text of list) {
    const m = /^\s*(\S+)\s+(\d\d?):(\d\d)-(\d\d?):(\d\d)\s*$/.exec(text)
    if (!m) continue
    const days = new Set<number>()
    for (const part of m[1]!.toLowerCase().split(',')) {
      if (part === 'daily') for (let d = 0; d < 7; d++) days.add(d)
      const [a, b] = part.split('-').map((p) => NAMES.indexOf(p))
      if (a === undefined || a < 0) continue
      for (let d = a, n = 0; n < 7; d = (d + 1) % 7, n++) {
        days.add(d)
        if (d === (b ?? a)) break
      }
    }
    const from = +m[2]! * 60 + +m[3]!
    let to = +m[4]! * 60 + +m[5]!
    if (to <= from) to += 1440
    for (const d of days) for (let t = from; t < to; t++) on[(d * 1440 + t) % on.length] = 1
  }
  return on
}

/** Spans of a stretch of time when nobody can work, with the reason. */
export function blocked(hours: Hours | null, from: number, to: number, zone: string | null): { from: number; to: number; why: Blocked }[] {
  const [awake, home, never] = [week(hours?.awake), week(hours?.home), week(hours?.never)]
  const out: { from: number; to: number; why: Blocked }[] = []
  const step = 300_000
  for (let at = Math.floor(from / step) * step; at < to; at += step) {
    const l = local(at, zone)
    const m = l.weekday * 1440 + l.hour * 60 + l.minute
    const asleep = awake ? !awake[m] : l.hour >= 23 || l.hour < 6
    const why = never?.[m] ? 'never' : asleep ? 'asleep' : home && !home[m] ? 'away' : null
    if (!why) continue
    const last = out.at(-1)
    if (last && last.why === why && last.to >= at) last.to = at + step
    else out.push({ from: at, to: at + step, why })
  }
  for (const s of out) { s.from = Math.max(s.from, from); s.to = Math.min(s.to, to) }
  return out.filter((s) => s.to > s.from)
}

let known: { of: string; shifts: [number, number][] } | null = null
/** Clock changes of the next two months, as the engine takes them: from which elapsed minute on, how far ahead of the start's clock. */
export function shifts(now: string, zone: string | null): [number, number][] {
  const of = `${now} ${zone}`
  if (known?.of !== of) known = { of, shifts: changes(now, zone) }
  return known.shifts
}
function changes(now: string, zone: string | null): [number, number][] {
  const base = moment(now, zone)
  const first = shift(base, zone)
  const out: [number, number][] = []
  let by = 0
  const hour = 3_600_000
  for (let at = base; at < base + 60 * 24 * hour; at += hour) {
    const ahead = Math.round((shift(at + hour, zone) - first) / 60_000)
    if (ahead === by) continue
    let [low, high] = [at, at + hour]
    while (high - low > 60_000) {
      const middle = low + Math.floor((high - low) / 120_000) * 60_000
      if (middle === low) break
      if (Math.round((shift(middle, zone) - first) / 60_000) === by) low = middle
      else high = middle
    }
    by = ahead
    out.push([Math.round((high - base) / 60_000), by])
  }
  return out
}
