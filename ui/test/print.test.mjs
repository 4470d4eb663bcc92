// On paper: a recipe and a plan as bench sheets, black on white whatever the screen shows.
import assert from 'node:assert/strict'
import { after, before, test } from 'node:test'
import { browse, keepPlan, open, settled, visit } from './house.mjs'

let browser, house, kept
before(async () => { browser = await browse(); house = await open(); kept = await keepPlan(house) })
after(async () => { await browser?.close(); await house?.close() })

/** Sheets of A4 it takes. */
async function sheets(page) {
  const pdf = await page.pdf({ format: 'A4', margin: { top: '12mm', bottom: '12mm', left: '12mm', right: '12mm' } })
  return (pdf.toString('latin1').match(/\/Type\s*\/Page\b/g) ?? []).length
}
async function onPaper(page) {
  await page.emulateMedia({ media: 'print', colorScheme: 'dark' })
  await page.setViewportSize({ width: 700, height: 990 })
  for (const gone of ['.frame-nav', '.offpaper', 'main button']) {
    for (const one of await page.locator(gone).all()) assert.equal(await one.isVisible(), false, gone)
  }
  const ground = await page.evaluate(() => getComputedStyle(document.documentElement).backgroundColor)
  assert.equal(ground, 'rgb(255, 255, 255)')
  const wide = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth)
  assert.ok(wide <= 0, `${wide} px too wide`)
}

test('a recipe: formula and method', async () => {
  const { items } = await house.api('GET', '/recipes')
  const { id } = items.find((r) => /batard/i.test(r.title))
  const { page, close } = await visit(browser, house, `recipes/${id}`, { viewport: { width: 1440, height: 900 }, colorScheme: 'dark' })
  await page.getByLabel('water, percent').waitFor()
  await settled(page)
  await onPaper(page)
  await page.getByRole('heading', { name: 'Method' }).waitFor()
  assert.ok(await page.locator('section.onpaper li').count() > 5)
  const n = await sheets(page)
  assert.ok(n >= 1 && n <= 2, `${n} sheets`)
  await close()
})

test('a plan: the ribbon, and every step with its hour and room to write', async () => {
  const { page, close } = await visit(browser, house, `plan/${kept.id}`, { viewport: { width: 1440, height: 900 }, colorScheme: 'dark' })
  await page.getByRole('heading', { name: 'Step by step' }).waitFor()
  await onPaper(page)
  const steps = await page.locator('.steps .one').count()
  assert.equal(await page.locator('.steps .begun:visible').count(), steps - 1)
  const n = await sheets(page)
  assert.ok(n >= 1 && n <= 4, `${n} sheets`)
  await close()
})
