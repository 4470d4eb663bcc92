// Without the server: the pages open again from this machine, with what was last read; a new build takes the old one's place.
import assert from 'node:assert/strict'
import { after, before, test } from 'node:test'
import { browse, keepPlan, open, sizes, visit } from './house.mjs'

let browser, house
before(async () => { browser = await browse(); house = await open(); await keepPlan(house) })
after(async () => { await browser?.close(); await house?.close() })

const kept = (page) => page.evaluate(async () => {
  const names = (await caches.keys()).filter((n) => n.startsWith('shell '))
  const paths = []
  for (const n of names) for (const r of await (await caches.open(n)).keys()) paths.push(new URL(r.url).pathname)
  return { names, paths }
})

test('reloaded while the server is down: shell, engine and what was last read', async () => {
  const { page, close } = await visit(browser, house, 'today', { viewport: sizes.phone })
  await page.evaluate(() => navigator.serviceWorker.ready.then(() => null))
  const { names, paths } = await kept(page)
  assert.equal(names.length, 1)
  for (const path of ['/', '/reader.wasm']) assert.ok(paths.includes(path), `${path} of ${paths}`)
  const title = await page.locator('.bench .do').innerText()
  const { items } = await house.api('GET', '/recipes')
  const { id } = items.find((r) => /batard/i.test(r.title))
  await page.goto(`${house.url}#/recipes/${id}`)
  await page.getByLabel('water, percent').waitFor()
  const grams = Number(await page.getByLabel('water, weight in all').inputValue())
  await house.stop()

  await page.reload()
  const water = page.getByLabel('water, percent')
  await water.waitFor()
  await page.getByText('The server does not answer').waitFor()
  // the engine answers in the page
  await water.fill(String(Number(await water.inputValue()) + 5))
  await page.waitForFunction((was) => Number(document.querySelector('[aria-label="water, weight in all"]').value) > was + 5, grams)
  await page.getByRole('button', { name: 'Keep as new version' }).click()
  await page.getByText('1 entry waits here').waitFor()
  // another page opens too, and what waits is laid over what was read
  await page.reload()
  await water.waitFor()
  await page.getByText('1 entry waits here').waitFor()
  await page.getByRole('tab', { name: 'Versions' }).click()
  await page.getByText('Side by side').waitFor()
  await page.goto(`${house.url}#/today`)
  await page.locator('.bench .do').waitFor()
  assert.equal(await page.locator('.bench .do').innerText(), title)
  await page.getByRole('button', { name: /^Done/ }).first().click()
  await page.getByText('entries wait here').waitFor()

  await house.start()
  await page.getByText(/entr(y|ies) waits? here/).waitFor({ state: 'hidden', timeout: 30_000 })
  const whole = await house.api('GET', `/recipes/${id}`)
  assert.equal(whole.tree.length, 2)
  const [line] = (await house.api('GET', '/bakes?underway=true')).items.filter((b) => !b.bake.demo)
  assert.equal((await house.api('GET', `/bakes/${line.bake.id}`)).did.length, 1)
  await close()
})

test('another build takes the place of the one before', async () => {
  const { page, close } = await visit(browser, house, 'today')
  await page.evaluate(() => navigator.serviceWorker.ready.then(() => null))
  const [now] = (await kept(page)).names
  // as a machine that had an older build
  await page.evaluate(async () => {
    await (await navigator.serviceWorker.ready).unregister()
    for (const name of await caches.keys()) await caches.delete(name)
    await (await caches.open('shell before')).put('/', new Response('old'))
  })
  await page.reload()
  for (let i = 0; ; i++) {
    const { names, paths } = await kept(page)
    if (names.length === 1 && names[0] === now) { assert.ok(paths.includes('/reader.wasm')); break }
    assert.ok(i < 100, `${names}`)
    await page.waitForTimeout(100)
  }
  await page.locator('main h1').first().waitFor({ state: 'attached' })
  await close()
})
