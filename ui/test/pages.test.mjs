// Every page in a real browser, against the real binary: phone and desk, light and dark.
import { AxeBuilder } from '@axe-core/playwright'
import assert from 'node:assert/strict'
import { after, before, test } from 'node:test'
import * as h from './house.mjs'
import { settled, sizes } from './house.mjs'

const pages = ['first', 'today', 'recipes', 'plan', 'kitchen', 'culture', 'oven', 'travel', 'notebook', 'settings']

let browser, house
before(async () => {
  browser = await h.browse()
  house = await h.open()
  const kept = await h.keepPlan(house)
  const [bake] = (await house.api('GET', '/bakes')).items
  pages.push(`recipes/${kept.recipe.recipe}`, `plan/${kept.id}`, `bake/${bake.bake.id}`)
})
after(async () => { await browser?.close(); await house?.close() })

const open = (options, path) => h.visit(browser, house, path, options)

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
  await house.stop()
  await house.start()
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
