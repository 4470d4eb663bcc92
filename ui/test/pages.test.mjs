// Every page in a real browser, against the real binary: phone and desk, light and dark.
// GRIGNE names the binary, CHROME the browser; both are found otherwise.
import { AxeBuilder } from '@axe-core/playwright'
import { chromium } from 'playwright-core'
import assert from 'node:assert/strict'
import { spawn } from 'node:child_process'
import { existsSync, mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { after, before, test } from 'node:test'

const root = new URL('../..', import.meta.url).pathname
const binary = process.env.GRIGNE ?? ['release', 'debug'].map((d) => join(root, 'target', d, 'grigne')).find(existsSync)
const chrome = process.env.CHROME ?? ['/usr/bin/chromium', '/usr/bin/google-chrome'].find(existsSync)

const sizes = { phone: { width: 390, height: 844 }, desk: { width: 1440, height: 900 } }
const pages = ['first', 'today', 'recipes', 'plan', 'kitchen', 'culture', 'oven', 'travel', 'notebook', 'settings']

let browser, folder, house

/** The workbench on a port of its own; resolves when it listens. */
function serve(port = 0) {
  const child = spawn(binary, ['serve', '--port', String(port), '--notebook', join(folder, 'notebook.grigne')])
  return new Promise((ok, no) => {
    let said = ''
    child.stdout.on('data', (d) => {
      said += d
      const at = /http:\/\/127\.0\.0\.1:(\d+)\//.exec(said)
      if (at) ok({ child, url: at[0], port: Number(at[1]) })
    })
    child.on('exit', (code) => no(new Error(`grigne serve ended with ${code}: ${said}`)))
  })
}

const stop = (child) => new Promise((ok) => { child.once('exit', ok); child.kill('SIGKILL') })

before(async () => {
  assert.ok(binary, 'build grigne first: cargo build -p grigne')
  assert.ok(chrome, 'no browser: install chromium, or name one as CHROME')
  folder = mkdtempSync(join(tmpdir(), 'grigne-'))
  browser = await chromium.launch({ executablePath: chrome, args: ['--no-sandbox'] })
  house = await serve()
})

after(async () => {
  await browser?.close()
  if (house) await stop(house.child)
  if (folder) rmSync(folder, { recursive: true, force: true })
})

/** A page that fails the test on any error it throws or logs. */
async function open(options, path = '') {
  const context = await browser.newContext(options)
  const page = await context.newPage()
  const wrong = []
  page.on('pageerror', (e) => wrong.push(String(e)))
  page.on('console', (m) => { if (m.type() === 'error') wrong.push(m.text()) })
  await page.goto(`${house.url}#/${path}`)
  await page.locator('main').first().waitFor()
  return { page, wrong, close: () => context.close() }
}

/** Waits until nothing on the page is still being computed. */
const settled = (page) =>
  page.waitForFunction(() => !document.querySelector('[aria-busy=true]'), null, { timeout: 60_000 })

for (const [size, viewport] of Object.entries(sizes)) {
  for (const colorScheme of ['light', 'dark']) {
    test(`every page on the ${size}, ${colorScheme}: no error, nothing out of reach`, async () => {
      for (const path of pages) {
        const { page, wrong, close } = await open({ viewport, colorScheme, reducedMotion: 'reduce' }, path)
        await settled(page)
        const found = await new AxeBuilder({ page }).withTags(['wcag2a', 'wcag2aa', 'wcag21aa', 'wcag22aa']).analyze()
        const told = found.violations.map((v) => `${v.id}: ${v.nodes.map((n) => n.html.slice(0, 120)).join(' | ')}`)
        assert.deepEqual(told, [], `#/${path}`)
        assert.deepEqual(wrong, [], `#/${path}`)
        const wide = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth)
        assert.ok(wide <= 0, `#/${path} is ${wide} px too wide`)
        await close()
      }
    })
  }
}

test('two pages agree within a second', async () => {
  const one = await open({ viewport: sizes.desk }, 'recipes')
  const two = await open({ viewport: sizes.phone }, 'recipes')
  const title = 'Tidewater batard'
  await Promise.all([one, two].map((p) => p.page.getByText(title).first().waitFor()))
  const listed = await (await fetch(`${house.url}api/recipes`)).json()
  const { id } = listed.items.find((r) => r.title === title)
  const put = (away) => one.page.evaluate(([id, away]) => fetch(`/api/recipes/${id}/away`, {
    method: 'POST', headers: { 'content-type': 'application/json' }, body: JSON.stringify({ away }),
  }).then((r) => r.status), [id, away])
  assert.equal(await put(true), 200)
  for (const p of [one, two]) await p.page.getByText(title).first().waitFor({ state: 'hidden', timeout: 1500 })
  assert.equal(await put(false), 200)
  await two.page.getByText(title).first().waitFor({ timeout: 1500 })
  await one.close()
  await two.close()
})

test('ingredient lines are read, told of, and kept as a recipe', async () => {
  const { page, wrong, close } = await open({ viewport: sizes.phone, reducedMotion: 'reduce' }, 'recipes')
  await page.getByText('From a page or a card').click()
  await page.getByLabel('Ingredient lines').fill('Pasted loaf\n2 cups bread flour\n200 g water\n80 g starter\n6 g salt\n3 cups gravel')
  await page.getByRole('button', { name: 'Read it' }).click()
  await page.getByRole('heading', { name: 'Assumed' }).waitFor()
  await page.getByText('cups and spoons are taken as US customary').waitFor()
  await page.getByText('3 cups gravel').last().waitFor()
  const found = await new AxeBuilder({ page }).withTags(['wcag2a', 'wcag2aa', 'wcag21aa', 'wcag22aa']).analyze()
  assert.deepEqual(found.violations.map((v) => v.id), [])
  const wide = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth)
  assert.ok(wide <= 0, `${wide} px too wide`)
  await page.getByRole('button', { name: 'Keep as a recipe' }).click()
  await page.getByRole('heading', { name: 'Pasted loaf' }).first().waitFor()
  assert.deepEqual(wrong, [])
  await close()
})

test('killed and started again under an open page, it goes on', async () => {
  const { page, close } = await open({ viewport: sizes.phone }, 'recipes')
  await page.getByText('Slipway rye').first().waitFor()
  const { port } = house
  await stop(house.child)
  house = await serve(port)
  // it hears again of what others write, without being loaded anew
  const listed = await (await fetch(`${house.url}api/recipes`)).json()
  const { id } = listed.items.find((r) => r.title === 'Slipway rye')
  const put = (away) => fetch(`${house.url}api/recipes/${id}/away`, {
    method: 'POST', headers: { 'content-type': 'application/json' }, body: JSON.stringify({ away }),
  })
  assert.equal((await put(true)).status, 200)
  await page.getByText('Slipway rye').first().waitFor({ state: 'hidden', timeout: 15_000 })
  assert.equal((await put(false)).status, 200)
  await page.getByText('Slipway rye').first().waitFor({ timeout: 5000 })
  await close()
})
