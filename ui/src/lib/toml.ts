/** Recipe and kitchen files as text: read with a parser, edited line by line so that comments and order stay. */
import { parse } from 'smol-toml'
import type { Hours } from './clock'

export type Table = { [key: string]: unknown }
export function read(text: string): Table | null {
  try {
    return parse(text) as Table
  } catch {
    return null
  }
}
export const hoursOf = (text: string): Hours | null => (read(text)?.['hours'] as Hours | undefined) ?? null
export const zoneOf = (text: string): string | null => (read(text)?.['zone'] as string | undefined) ?? null
export const list = (t: Table | null | undefined, k: string): Table[] => (Array.isArray(t?.[k]) ? (t[k] as Table[]) : [])
export const sub = (t: Table | null | undefined, k: string): Table => ((t?.[k] ?? {}) as Table)
export const str = (t: Table | null | undefined, k: string): string => (t?.[k] === undefined ? '' : String(t[k]))
export const quote = (s: string) => JSON.stringify(s).replace(/\u007f/g, '\\u007F')

/** First number of "75 %", "1 h 30 min" in minutes with `duration`. */
export const amount = (text: string): number => parseFloat(text.replace('−', '-'))
export function minutes(text: string): number {
  let sum = 0
  let any = false
  for (const m of text.matchAll(/([\d.]+)\s*(d|h|m)/g)) {
    sum += +m[1]! * (m[2] === 'd' ? 1440 : m[2] === 'h' ? 60 : 1)
    any = true
  }
  return any ? sum : Number.NaN
}
export function celsiusOf(text: string): number {
  const n = amount(text)
  return /F\s*$/.test(text) ? (n - 32) / 1.8 : n
}
export function gramsOf(text: string): number {
  let sum = 0
  const of: Record<string, number> = { mg: 0.001, g: 1, kg: 1000, oz: 28.349523125, lb: 453.59237, lbs: 453.59237 }
  for (const m of text.matchAll(/([\d.]+)\s*(mg|kg|g|oz|lbs|lb)/g)) sum += +m[1]! * of[m[2]!]!
  return sum
}
export function writeDuration(min: number): string {
  const m = Math.max(0, Math.round(min))
  return [m >= 60 && `${Math.floor(m / 60)} h`, (m % 60 || m < 60) && `${m % 60} min`].filter(Boolean).join(' ')
}

const header = (line: string) => /^\s*(\[\[?)\s*([^\]]+?)\s*\]\]?\s*(?:#.*)?$/.exec(line)
/** Where a table's lines are: after its header, up to the next one. */
function region(lines: string[], table: string, nth: number): { head: number; from: number; to: number } | null {
  let seen = -1
  let head = table === '' ? -1 : -2
  let deep = 0
  for (let i = 0; i < lines.length; i++) {
    const h = deep <= 0 ? header(lines[i]!) : null
    if (!h) { deep += depth(lines[i]!); continue }
    deep = 0
    if (head !== -2) return { head, from: head + 1, to: i }
    if (h[2] === table && ++seen === nth) head = i
  }
  return head === -2 ? null : { head, from: head + 1, to: lines.length }
}
/** How many brackets a line leaves open, texts and comments left out. */
function depth(line: string): number {
  let d = 0
  let q = ''
  for (let i = 0; i < line.length; i++) {
    const c = line[i]!
    if (q) { if (c === '\\' && q === '"') i++; else if (c === q) q = '' }
    else if (c === '"' || c === "'") q = c
    else if (c === '#') break
    else if (c === '[' || c === '{') d++
    else if (c === ']' || c === '}') d--
  }
  return d
}
function comment(line: string): string {
  let q = ''
  for (let i = 0; i < line.length; i++) {
    const c = line[i]!
    if (q) { if (c === '\\' && q === '"') i++; else if (c === q) q = '' }
    else if (c === '"' || c === "'") q = c
    else if (c === '#') return ' ' + line.slice(i)
  }
  return ''
}
const last = (lines: string[], r: { from: number; to: number }) => {
  let i = r.to
  // blank lines and a comment that belongs to the next table stay below
  while (i > r.from && /^\s*(#.*)?$/.test(lines[i - 1]!)) i--
  return i
}

/** Sets one field; an empty literal takes it out. */
export function set(text: string, table: string, nth: number, field: string, literal: string): string {
  const lines = text.split('\n')
  let r = region(lines, table, nth)
  if (!r) {
    if (literal === '') return text
    while (lines.length && lines.at(-1) === '') lines.pop()
    lines.push('', `[${table}]`, '')
    r = { head: lines.length - 2, from: lines.length - 1, to: lines.length - 1 }
  }
  for (let i = r.from; i < r.to; i++) {
    const m = /^(\s*)("?)([\w-]+)\2\s*=/.exec(lines[i]!)
    if (!m) continue
    let end = i
    for (let d = depth(lines[i]!.slice(m[0].length)); d > 0 && end + 1 < r.to; ) d += depth(lines[++end]!)
    if (m[3] === field) {
      const c = end === i ? comment(lines[i]!) : ''
      lines.splice(i, end - i + 1, ...(literal === '' ? [] : [`${m[1]}${field} = ${literal}${c}`]))
      return lines.join('\n')
    }
    i = end
  }
  if (literal !== '') lines.splice(last(lines, r), 0, `${field} = ${literal}`)
  return lines.join('\n')
}
export const setText = (text: string, table: string, nth: number, field: string, value: string) => set(text, table, nth, field, value === '' ? '' : quote(value))

/** Sets a field of an inline table such as `seed = { inoculation = "32 %" }`. */
export function setInline(text: string, table: string, nth: number, field: string, inner: string, value: string, now: Table): string {
  const all = { ...now, [inner]: value }
  return set(text, table, nth, field, `{ ${Object.entries(all).map(([k, v]) => `${k} = ${typeof v === 'string' ? quote(v) : String(v)}`).join(', ')} }`)
}

export function remove(text: string, table: string, nth: number): string {
  const lines = text.split('\n')
  const r = region(lines, table, nth)
  if (!r || r.head < 0) return text
  const end = last(lines, r)
  lines.splice(r.head, end - r.head + (lines[end] === '' ? 1 : 0))
  return lines.join('\n')
}
/** A new table after the nth of its name, or at the end. */
export function insert(text: string, table: string, after: number, body: string[]): string {
  const lines = text.split('\n')
  const r = after >= 0 ? region(lines, table, after) : null
  const made = ['', `[[${table}]]`, ...body]
  if (r) lines.splice(last(lines, r), 0, ...made)
  else { while (lines.at(-1) === '') lines.pop(); lines.push(...made, '') }
  return lines.join('\n')
}
/** Changes places with the next of its name. */
export function swap(text: string, table: string, nth: number): string {
  const lines = text.split('\n')
  const [a, b] = [region(lines, table, nth), region(lines, table, nth + 1)]
  if (!a || !b) return text
  const [ae, be] = [last(lines, a), last(lines, b)]
  const [one, between, two] = [lines.slice(a.head, ae), lines.slice(ae, b.head), lines.slice(b.head, be)]
  lines.splice(a.head, be - a.head, ...two, ...between, ...one)
  return lines.join('\n')
}
