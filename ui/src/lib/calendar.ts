/** Alarms that survive a sleeping phone: the steps of a plan as iCalendar. */
import { key } from './keys'
import type { OnePlan } from './documents'
import { calls } from './planned'

const stamp = (at: number) => new Date(at).toISOString().replace(/[-:]|\.\d+/g, '')
const safe = (t: string) => t.replace(/\\/g, '\\\\').replace(/\n/g, '\\n').replace(/[,;]/g, (c) => '\\' + c)
function fold(line: string): string {
  const out: string[] = []
  let part = ''
  let bytes = 0
  for (const c of line) {
    const n = new TextEncoder().encode(c).length
    if (bytes + n > 73) { out.push(part); part = ' '; bytes = 1 }
    part += c
    bytes += n
  }
  out.push(part)
  return out.join('\r\n')
}

export function calendar(breads: { title: string; plan: OnePlan; base: number }[]): string {
  const lines = ['BEGIN:VCALENDAR', 'VERSION:2.0', 'PRODID:-//grigne//ui//EN']
  for (const b of breads) {
    for (const s of calls(b.plan)) {
      const from = b.base + s.from * 60_000
      lines.push('BEGIN:VEVENT', `UID:${key()}@grigne`, `DTSTAMP:${stamp(Date.now())}`, `DTSTART:${stamp(from)}`,
        `DTEND:${stamp(from + Math.max(1, s.hands_on) * 60_000)}`, `SUMMARY:${safe(`${b.title}: ${s.title}`)}`,
        `DESCRIPTION:${safe([s.act, s.look_for && `Done ${s.look_for}.`, s.note, ...s.cautions].filter(Boolean).join('\n'))}`,
        'BEGIN:VALARM', 'ACTION:DISPLAY', `DESCRIPTION:${safe(s.title)}`, 'TRIGGER:PT0M', 'END:VALARM', 'END:VEVENT')
    }
  }
  lines.push('END:VCALENDAR')
  return lines.map(fold).join('\r\n') + '\r\n'
}

export function download(name: string, text: string, type = 'text/calendar') {
  const a = document.createElement('a')
  a.href = URL.createObjectURL(new Blob([text], { type }))
  a.download = name
  a.click()
  setTimeout(() => URL.revokeObjectURL(a.href), 10_000)
}
