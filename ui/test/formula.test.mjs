// Editing a formula: percent and grams, a warning in place, a new version, and back.
import assert from 'node:assert/strict'
import { after, before, test } from 'node:test'
import { browse, open, recipeLike, settled, sizes, visit } from './house.mjs'

let browser, house, id
before(async () => {
  browser = await browse()
  house = await open()
  id = await recipeLike(house, /batard/i)
})
after(async () => { await browser?.close(); await house?.close() })

const versions = async () => (await house.api('GET', `/recipes/${id}`)).tree.length
const water = (page) => page.getByLabel('water, percent')
const grams = (page) => page.getByLabel('water, weight in all').inputValue().then(Number)
const until = async (page, what, words) => {
  for (let i = 0; i < 100; i++) { if (await what()) return; await page.waitForTimeout(50) }
  assert.fail(words)
}

test('a percentage typed: the grid follows, the version is kept, and undone', async () => {
  const { page, wrong, close } = await visit(browser, house, `recipes/${id}`, { viewport: sizes.phone })
  await water(page).waitFor()
  await settled(page)
  const [was, weighed] = [Number(await water(page).inputValue()), await grams(page)]
  await water(page).fill(String(was + 4))
  await until(page, async () => (await grams(page)) > weighed + 5, 'the water weighs more')
  // the flour gives way: the dough is as heavy as before
  await page.getByPlaceholder('for next time').fill('wetter')
  await page.getByRole('button', { name: 'Keep as new version' }).click()
  await page.getByText('New version kept.').waitFor()
  assert.equal(await versions(), 2)
  assert.match((await house.api('GET', `/recipes/${id}`)).version.text, new RegExp(`water = "${was + 4} %"`))
  await page.locator('.toast').getByRole('button', { name: 'Undo' }).click()
  await page.getByText('Undone.').waitFor()
  assert.equal(await versions(), 1)
  await until(page, async () => Number(await water(page).inputValue()) === was, 'the page shows it as it was')
  assert.deepEqual(wrong, [])
  await close()
})

test('grams typed: of water the percentage follows, of a flour all shares do', async () => {
  const { page, wrong, close } = await visit(browser, house, `recipes/${id}`)
  await water(page).waitFor()
  await settled(page)
  const was = Number(await water(page).inputValue())
  const g = await grams(page)
  const cell = page.getByLabel('water, weight in all')
  await cell.fill(String(Math.round(g * 1.05)))
  await cell.press('Tab')
  await until(page, async () => Math.abs(Number(await water(page).inputValue()) - was * 1.05) < 0.3, 'percent follows grams')
  await page.getByRole('button', { name: 'Take back', exact: true }).click()
  await until(page, async () => Number(await water(page).inputValue()) === was, 'taken back')
  const shares = page.locator('.grid input[aria-label$=", percent"]')
  const names = await shares.evaluateAll((all) => all.map((i) => i.getAttribute('aria-label')))
  const flours = names.slice(0, names.indexOf('water, percent'))
  const first = page.getByLabel(flours[0].replace('percent', 'weight in all'))
  await first.fill(String(Math.round(Number(await first.inputValue()) / 2)))
  await first.press('Tab')
  const sum = async () => { let s = 0; for (const f of flours) s += Number(await page.getByLabel(f, { exact: true }).inputValue()); return s }
  await until(page, async () => Math.abs((await sum()) - 100) < 0.02, 'shares make 100 %')
  assert.equal(await page.locator('.grid [aria-invalid=true]').count(), 0)
  assert.deepEqual(wrong, [])
  await close()
})

test('flours that are not 100 %: said in place, mended in one tap; no version of it can be kept', async () => {
  const { page, wrong, close } = await visit(browser, house, `recipes/${id}`)
  await water(page).waitFor()
  const before = await versions()
  const share = page.locator('.grid input[aria-label$=", percent"]').first() // the greatest
  const was = Number(await share.inputValue())
  await share.fill(String(was - 7))
  await page.locator('.grid [aria-invalid=true]').first().waitFor()
  await page.getByText('The flours make 93').waitFor()
  assert.ok(await page.getByRole('button', { name: 'Keep as new version' }).isDisabled())
  await page.getByRole('button', { name: 'Let the greatest flour take the rest' }).click()
  await page.locator('.grid [aria-invalid=true]').first().waitFor({ state: 'hidden' })
  await until(page, async () => Number(await share.inputValue()) === was, 'the greatest flour took what was missing')
  assert.equal(await versions(), before)
  assert.deepEqual(wrong, [])
  await close()
})
