// How quick the pages are, in a real browser against the real binary: `./x bench-pages`. No test: it prints figures
// for docs/performance.md, with what they are held to.
import { spawn } from 'node:child_process'
import { cpSync, existsSync, mkdtempSync, rmSync } from 'node:fs'
import { loadavg, tmpdir } from 'node:os'
import { join } from 'node:path'
import { browse, keepPlan, open, settled, sizes } from '../test/house.mjs'

const years = process.env.GRIGNE_TEN_YEARS
const quantile = (all, q) => [...all].sort((a, b) => a - b)[Math.min(all.length - 1, Math.floor(q * all.length))]
const row = (what, got, held) => console.log(`| ${what} | ${got} | ${held} |`)
const ms = (x) => `${x < 10 ? x.toFixed(1) : x.toFixed(0)} ms`

/** From a typed percentage to the grid on the screen: the frame after the table changed. */
async function edits(page) {
  await page.getByLabel('water, percent').waitFor()
  await settled(page)
  return page.evaluate(async () => {
    const input = document.querySelector('[aria-label="water, percent"]')
    const table = document.querySelector('table.grid')
    const was = Number(input.value)
    const times = []
    for (let i = 0; i < 60; i++) {
      await new Promise((ok) => setTimeout(ok, 60))
      times.push(await new Promise((ok) => {
        const begun = performance.now()
        const watch = new MutationObserver(() => {
          watch.disconnect()
          // a message sent within a frame comes when it has been painted
          requestAnimationFrame(() => { const c = new MessageChannel(); c.port1.onmessage = () => ok(performance.now() - begun); c.port2.postMessage(0) })
        })
        watch.observe(table, { subtree: true, characterData: true, childList: true })
        input.value = String(was + 1 + (i % 7))
        input.dispatchEvent(new Event('input', { bubbles: true }))
      }))
    }
    return times.slice(10)
  })
}

/** Frames in which the ribbon was drawn anew, a second, while a tick is dragged to and fro. */
async function drag(page, plan) {
  const s = plan.steps.filter((x) => x.may_start && x.hands_on > 0 && x.do !== 'build').sort((a, b) => (b.may_start[1] - b.may_start[0]) - (a.may_start[1] - a.may_start[0]))[0]
  const grip = page.getByRole('slider', { name: s.title, exact: true })
  await grip.scrollIntoViewIfNeeded()
  const box = await grip.boundingBox()
  await page.evaluate(() => {
    const seen = { frames: 0, dirty: false, begun: performance.now() }
    globalThis.seen = seen
    new MutationObserver(() => { seen.dirty = true }).observe(document.querySelector('.ribbon svg'), { subtree: true, attributes: true, attributeFilter: ['d'] })
    const tick = () => { if (seen.dirty) { seen.frames++; seen.dirty = false } requestAnimationFrame(tick) }
    requestAnimationFrame(tick)
  })
  const [x, y] = [box.x + box.width / 2, box.y + box.height / 2]
  await page.mouse.move(x, y)
  await page.mouse.down()
  await page.evaluate(() => { Object.assign(globalThis.seen, { frames: 0, begun: performance.now() }) })
  for (let i = 0; i < 300; i++) await page.mouse.move(x + 60 * Math.sin(i / 15), y)
  const got = await page.evaluate(() => ({ frames: globalThis.seen.frames, took: performance.now() - globalThis.seen.begun }))
  await page.mouse.up()
  return (got.frames * 1000) / got.took
}

/** From starting the binary to the first page: its HTML, and its content on the screen. */
async function starts(browser) {
  const folder = mkdtempSync(join(tmpdir(), 'grigne-'))
  cpSync(years, folder, { recursive: true })
  const out = []
  for (let i = 0; i < 7; i++) {
    const context = await browser.newContext({ viewport: sizes.desk })
    const page = await context.newPage()
    const begun = performance.now()
    const child = spawn(process.env.GRIGNE, ['serve', '--port', '0', '--notebook', join(folder, 'notebook.grigne')])
    const url = await new Promise((ok) => { let said = ''; child.stdout.on('data', (d) => { said += d; const at = /http:\/\/127\.0\.0\.1:\d+\//.exec(said); if (at) ok(at[0]) }) })
    const listens = performance.now() - begun
    await page.goto(`${url}#/notebook`, { waitUntil: 'commit' })
    const html = performance.now() - begun
    await page.locator('ul.lines li').first().waitFor()
    out.push({ listens, html, shown: performance.now() - begun })
    await context.close()
    await new Promise((ok) => { child.once('exit', ok); child.kill('SIGTERM') })
  }
  rmSync(folder, { recursive: true, force: true })
  return out.slice(1)
}

console.log(`load ${loadavg()[0].toFixed(1)}\n`)
console.log('| | measured | to hold |\n|---|---|---|')
const browser = await browse()
const house = await open()
try {
  const { plan, id } = await keepPlan(house)
  const { items } = await house.api('GET', '/recipes')
  const page = await (await browser.newContext({ viewport: sizes.desk })).newPage()
  await page.goto(`${house.url}#/recipes/${items.find((r) => /batard/i.test(r.title)).id}`)
  const typed = await edits(page)
  row('a percentage typed, to the grid painted: median, 95 in 100', `${ms(quantile(typed, 0.5))}, ${ms(quantile(typed, 0.95))}`, '≤ 16 ms')
  await page.goto(`${house.url}#/plan/${id}`)
  await page.getByRole('heading', { name: 'Step by step' }).waitFor()
  row('a tick dragged: ribbons drawn a second', (await drag(page, plan)).toFixed(0), '≥ 30')
  if (years && existsSync(years)) {
    const all = await starts(browser)
    const mid = (k) => ms(quantile(all.map((x) => x[k]), 0.5))
    row('ten years of bakes: from starting the binary until it listens', mid('listens'), '')
    row('… until the browser has the page', mid('html'), '≤ 300 ms')
    row('… until the latest bakes stand on it', mid('shown'), '')
  }
} finally {
  await browser.close()
  await house.close()
}
