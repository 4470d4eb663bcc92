// Two devices change one recipe: nothing is lost, whoever was first.
import assert from 'node:assert/strict'
import { after, before, test } from 'node:test'
import { browse, open, recipeLike, sizes, visit } from './house.mjs'

let browser, house, id
before(async () => {
  browser = await browse()
  house = await open()
  id = await recipeLike(house, /batard/i)
})
after(async () => { await browser?.close(); await house?.close() })

const water = (page) => page.getByLabel('water, percent')
const whole = () => house.api('GET', `/recipes/${id}`)
async function change(page, by, note) {
  await water(page).waitFor()
  const was = Number(await water(page).inputValue())
  await water(page).fill(String(was + by))
  await page.getByPlaceholder('for next time').fill(note)
  return was + by
}

test('the second finds a newer one: side by side, kept beside it', async () => {
  const desk = await visit(browser, house, `recipes/${id}`)
  const phone = await visit(browser, house, `recipes/${id}`, { viewport: sizes.phone })
  const mine = await change(phone.page, 3, 'wetter')
  const theirs = await change(desk.page, -2, 'stiffer')
  await desk.page.getByRole('button', { name: 'Keep as new version' }).click()
  await desk.page.getByText('New version kept.').waitFor()
  const other = phone.page.getByRole('region', { name: 'Changed on another device' })
  await other.getByText('stiffer').waitFor()
  await other.getByRole('cell', { name: new RegExp(`^${theirs}`) }).first().waitFor()
  await other.getByRole('cell', { name: new RegExp(`^${mine}`) }).first().waitFor()
  await phone.page.getByRole('button', { name: 'Keep mine beside it' }).click()
  await phone.page.getByText('Kept beside a version of another device').waitFor()
  const { tree, recipe } = await whole()
  assert.equal(tree.length, 3)
  const [a, b] = ['stiffer', 'wetter'].map((n) => tree.find((v) => v.note === n))
  assert.equal(a.parent, b.parent)
  assert.equal(recipe.current, b.id)
  assert.deepEqual([...desk.wrong, ...phone.wrong], [])
  await desk.close()
  await phone.close()
})

test('or the other is taken over, and what was typed can be had back', async () => {
  const desk = await visit(browser, house, `recipes/${id}`)
  const phone = await visit(browser, house, `recipes/${id}`, { viewport: sizes.phone })
  const mine = await change(phone.page, 5, 'mine')
  const theirs = await change(desk.page, 1, 'theirs')
  await desk.page.getByRole('button', { name: 'Keep as new version' }).click()
  await phone.page.getByRole('button', { name: 'Take the other over' }).click()
  await phone.page.waitForFunction((v) => document.querySelector('[aria-label="water, percent"]')?.value === v, String(theirs))
  await phone.page.getByRole('button', { name: 'Bring it back' }).click()
  await phone.page.waitForFunction((v) => document.querySelector('[aria-label="water, percent"]')?.value === v, String(mine))
  await phone.page.getByRole('button', { name: 'Keep as new version' }).click()
  await phone.page.getByText('New version kept.').waitFor()
  const { tree } = await whole()
  assert.equal(tree.at(-1).parent ?? tree.at(-1).id, tree.find((v) => v.note === 'theirs').id)
  await desk.close()
  await phone.close()
})

test('written without the server, it stands beside what came meanwhile', async () => {
  const phone = await visit(browser, house, `recipes/${id}`, { viewport: sizes.phone })
  await change(phone.page, 2, 'at the lake')
  const before = await whole()
  await phone.context.setOffline(true)
  await phone.page.getByRole('button', { name: 'Keep as new version' }).click()
  await phone.page.getByText('1 entry waits here').waitFor()
  const text = before.version.text + '\n# at home\n'
  const theirs = '019aa000-0000-7000-8000-0000000000aa'
  await house.api('PUT', `/recipes/${id}/versions/${theirs}`, { parent: before.version.id, text, note: 'at home' })
  await phone.context.setOffline(false)
  await phone.page.getByText('stands beside a version of another device').waitFor({ timeout: 20_000 })
  const { tree } = await whole()
  const [a, b] = ['at the lake', 'at home'].map((n) => tree.find((v) => v.note === n))
  assert.equal(a.parent, b.parent)
  await phone.close()
})
