// What the tests share: the real binary with a notebook of its own, and a real browser.
// GRIGNE names the binary, CHROME the browser; both are found otherwise.
import { chromium } from 'playwright-core'
import assert from 'node:assert/strict'
import { spawn } from 'node:child_process'
import { existsSync, mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'

const root = new URL('../..', import.meta.url).pathname
const binary = process.env.GRIGNE ?? ['release', 'debug'].map((d) => join(root, 'target', d, 'grigne')).find(existsSync)
const chrome = process.env.CHROME ?? ['/usr/bin/chromium', '/usr/bin/google-chrome'].find(existsSync)

export const sizes = { phone: { width: 390, height: 844 }, desk: { width: 1440, height: 900 } }
export const minute = 60_000
export const hour = 3_600_000

export function browse(args = []) {
  assert.ok(chrome, 'no browser: install chromium, or name one as CHROME')
  return chromium.launch({ executablePath: chrome, args: ['--no-sandbox', ...args] })
}

/** The workbench in a folder of its own, until `close`; `stop` and `start` are a server that goes and comes back. */
export async function open(options = []) {
  assert.ok(binary, 'build grigne first: cargo build -p grigne')
  const folder = mkdtempSync(join(tmpdir(), 'grigne-'))
  const house = { folder, port: 0, url: '', child: null }
  house.start = () => new Promise((ok, no) => {
    const child = spawn(binary, ['serve', '--port', String(house.port), '--notebook', join(folder, 'notebook.grigne'), ...options])
    let said = ''
    child.stdout.on('data', (d) => {
      said += d
      const at = /http:\/\/127\.0\.0\.1:(\d+)\//.exec(said)
      if (at) { Object.assign(house, { child, url: at[0], port: Number(at[1]) }); ok(house) }
    })
    child.stderr.on('data', (d) => { said += d })
    child.on('exit', (code) => no(new Error(`grigne serve ended with ${code}: ${said}`)))
  })
  house.stop = () => new Promise((ok) => { house.child.once('exit', ok); house.child.kill('SIGKILL') })
  house.close = async () => {
    if (house.child?.exitCode === null && house.child.signalCode === null) await house.stop()
    rmSync(folder, { recursive: true, force: true })
  }
  /** Asks the API as a script on this machine does. */
  house.api = async (method, path, body) => {
    const answer = await fetch(`${house.url}api${path}`, {
      method, ...(body === undefined ? {} : { headers: { 'content-type': 'application/json' }, body: JSON.stringify(body) }),
    })
    const read = await answer.json()
    assert.ok(answer.ok, `${method} ${path}: ${answer.status} ${JSON.stringify(read)}`)
    return read
  }
  return house.start()
}

/** A page that keeps every error it throws or logs in `wrong`. */
export async function visit(browser, house, path = '', options = { viewport: sizes.desk }) {
  const context = await browser.newContext(options)
  const page = await context.newPage()
  const wrong = []
  page.on('pageerror', (e) => wrong.push(String(e)))
  page.on('console', (m) => { if (m.type() === 'error') wrong.push(m.text()) })
  await page.goto(`${options.baseURL ?? house.url}#/${path}`)
  await page.locator('main').first().waitFor()
  return { context, page, wrong, close: () => context.close() }
}

/** Waits until nothing the page asked is open, and it asks nothing for a while. */
export const settled = (page) =>
  page.waitForFunction(() => {
    if (document.querySelector('[data-busy]')) globalThis.stillSince = undefined
    else globalThis.stillSince ??= performance.now()
    return performance.now() - globalThis.stillSince > 500
  }, null, { timeout: 60_000, polling: 50 })

/** A key as the pages make them; `n` tells several apart. */
export const key = (n) => `019aa000-0000-7000-8000-${String(n).padStart(12, '0')}`

/** The key of the first recipe whose title is like this. */
export const recipeLike = async (house, title) => (await house.api('GET', '/recipes')).items.find((r) => title.test(r.title)).id

/** Keeps a plan of a recipe for a day and a half ahead, begun at `now`; gives its key and its document. */
export async function keepPlan(house, { recipe = /batard/i, now = Date.now(), n = 1, after = 40 * hour } = {}) {
  const zone = 'UTC'
  const iso = (at) => new Date(Math.ceil(at / (5 * minute)) * 5 * minute).toISOString().slice(0, 19)
  const whole = async (kind, found) => {
    const { items } = await house.api('GET', `/${kind}`)
    const one = items.find(found) ?? items[0]
    return (await house.api('GET', `/${kind}/${one.id}`)).version
  }
  const r = await whole('recipes', (x) => recipe.test(x.title))
  const k = await whole('kitchens', () => true)
  // at home all day, so that any hour of the clock has a plan
  const text = k.text.replace(/^\[hours\]\n(?:(?!\[).*\n?)*/m, '')
  const kv = key(900 + n)
  await house.api('PUT', `/kitchens/${k.kitchen}/versions/${kv}`, { parent: k.id, text, note: 'at home' })
  const ready = iso(now + after)
  const doc = await house.api('POST', '/ask', { ask: 'plan', recipe: r.text, kitchen: text, ready, now: iso(now), zone, shifts: [] })
  assert.ok(doc.plans?.length, JSON.stringify(doc).slice(0, 600))
  const plan = doc.plans[0]
  const base = Date.parse(doc.now + 'Z')
  const kept = { verb: 'plan', title: doc.title, kitchen: doc.kitchen, now: doc.now, zone, plans: [plan] }
  const id = key(n)
  await house.api('PUT', `/plans/${id}`, {
    id, recipe_version: r.id, kitchen_version: kv, culture: null, at: base, ready: Math.round(base + plan.ready * minute), zone, document: JSON.stringify(kept),
  })
  return { id, plan, base, recipe: r, kitchen: kv }
}
