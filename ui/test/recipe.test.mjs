// Mistakes in a text stand beside their field, with line and column; the hearth is drawn as the engine lays it.
import assert from 'node:assert/strict'
import { after, before, test } from 'node:test'
import { browse, open, settled, sizes, visit } from './house.mjs'

let browser, house
before(async () => { browser = await browse(); house = await open() })
after(async () => { await browser?.close(); await house?.close() })
const find = async (title) => (await house.api('GET', '/recipes')).items.find((r) => title.test(r.title))

test('a wrong amount in the method: said at the step and in the field, with its place in the text', async () => {
  const { id } = await find(/batard/i)
  const { text } = (await house.api('GET', `/recipes/${id}`)).version
  const { page, wrong, close } = await visit(browser, house, `recipes/${id}`, { viewport: sizes.phone })
  await page.getByRole('tab', { name: 'Method' }).click()
  await page.getByRole('button', { name: 'Change step 1', exact: true }).click()
  await page.getByLabel('At most').fill('9 parsecs')
  await page.getByLabel('At most').press('Tab')
  await page.locator('[aria-invalid=true]').first().waitFor()
  await page.locator('.fields .alert').first().waitFor()
  await page.getByRole('button', { name: 'Close step 1', exact: true }).click()
  await page.locator('.method li').first().getByText(/Line \d+, step 1, most/).waitFor()
  assert.ok(await page.getByRole('button', { name: 'Keep as new version' }).isDisabled())
  // the place leads into the text
  const at = page.getByRole('button', { name: /Line \d+, column \d+/ }).first()
  const [line] = (await at.innerText()).match(/\d+/)
  await at.click()
  const chosen = await page.evaluate(() => { const a = document.activeElement; return { all: a.value.slice(0, a.selectionStart).split('\n').length, line: a.value.split('\n')[a.value.slice(0, a.selectionStart).split('\n').length - 1] } })
  assert.equal(chosen.all, Number(line))
  assert.match(chosen.line, /9 parsecs/)
  // the server says the same place
  const answer = await fetch(`${house.url}api/recipes/${id}/versions/019aa000-0000-7000-8000-000000000777`, {
    method: 'PUT', headers: { 'content-type': 'application/json' }, body: JSON.stringify({ parent: null, text: await page.locator('textarea').inputValue(), note: '' }),
  })
  assert.equal(answer.status, 422)
  assert.match(answer.headers.get('content-type'), /problem\+json/)
  const told = await answer.json()
  assert.equal(told.problems[0].line, Number(line))
  assert.ok(told.problems[0].column > 1)
  assert.ok(text.length > 0)
  assert.deepEqual(wrong, [])
  await close()
})

test('a file with mistakes brought in: every line that is wrong', async () => {
  const { id } = await find(/batard/i)
  const { text } = (await house.api('GET', `/recipes/${id}`)).version
  const { page, close } = await visit(browser, house, 'recipes')
  const bad = text.replace(/^title/m, 'titel').replace(/salt = ".*"/, 'salt = "much"')
  await page.locator('input[type=file]').setInputFiles({ name: 'mine.toml', mimeType: 'text/plain', buffer: Buffer.from(bad) })
  await page.getByText('mine.toml').waitFor()
  const salt = bad.split('\n').findIndex((l) => l.startsWith('salt')) + 1
  await page.getByText(`Line ${salt}, column`).waitFor()
  await close()
})

test('loads on the hearth, to scale, as many pieces as each load has', async () => {
  const { page, wrong, close } = await visit(browser, house, 'oven')
  const { id } = await find(/baguette/i)
  await page.getByRole('combobox', { name: 'Loaf' }).selectOption(id)
  await page.getByRole('heading', { name: 'On the hearth' }).waitFor({ timeout: 60_000 })
  await settled(page)
  const said = await page.locator('h2:has-text("On the hearth") + p').innerText()
  const [pieces] = said.match(/\d+/)
  const captions = await page.locator('.loads figcaption').allInnerTexts()
  let sum = 0
  for (const c of captions) {
    const [, from, to, n] = /Loads? (\d+)(?: to (\d+))?: (\d+)/.exec(c)
    sum += (Number(to ?? from) - Number(from) + 1) * Number(n)
  }
  assert.equal(sum, Number(pieces), captions.join('; '))
  const drawn = await page.locator('.loads figure').first().evaluate((f) => {
    const s = f.querySelector('.stone')
    return { w: s.width.baseVal.value, all: [...f.querySelectorAll('.piece')].map((p) => [p.x.baseVal.value, p.width.baseVal.value]) }
  })
  for (const [x, w] of drawn.all) assert.ok(x >= 0 && x + w <= drawn.w)
  await page.getByText(/To scale: \d+ × \d+\scm, [\d.]+ × [\d.]+\sin/).waitFor()
  assert.deepEqual(wrong, [])
  await close()
})
