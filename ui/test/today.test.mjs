// Today: moments that outlive a reload, one tap for what was done; and a server that goes away under it.
import assert from 'node:assert/strict'
import { after, before, test } from 'node:test'
import { browse, keepPlan, open, sizes, visit } from './house.mjs'

let browser, house, kept
before(async () => { browser = await browse(); house = await open(); kept = await keepPlan(house) })
after(async () => { await browser?.close(); await house?.close() })

/** Seconds until the next step, as the clock on the page says. */
async function left(page) {
  const text = await page.locator('.bench .big').innerText()
  const parts = /in ([\d:]+)/.exec(text)?.[1].split(':').map(Number)
  assert.ok(parts, text)
  return parts.reduce((a, b) => a * 60 + b, 0)
}
const underway = async () => (await house.api('GET', '/bakes?underway=true')).items.filter((b) => !b.bake.demo)

test('a timer is a moment: a reload and an hour asleep do not move it', async () => {
  const { page, wrong, close } = await visit(browser, house, 'today', { viewport: sizes.phone })
  await page.clock.install()
  await page.reload()
  const title = await page.locator('.bench .do').innerText()
  await page.getByRole('button', { name: '10 min more' }).click()
  await page.waitForTimeout(300)
  const [one, at] = [await left(page), Date.now()]
  await page.reload()
  await page.locator('.bench .big').waitFor()
  assert.equal(await page.locator('.bench .do').innerText(), title)
  const two = await left(page)
  assert.ok(Math.abs(one - two - (Date.now() - at) / 1000) <= 3, `${one} s, then ${two} s`)
  await page.clock.fastForward(300_000)
  const three = await left(page)
  assert.ok(Math.abs(two - three - 300) <= 3, `${two} s, then ${three} s after five minutes asleep`)
  assert.deepEqual(wrong, [])
  await close()
})

test('done in one tap: the bake begins, the next step stands there', async () => {
  const { page, wrong, close } = await visit(browser, house, 'today', { viewport: sizes.phone })
  const title = await page.locator('.bench .do').innerText()
  await page.getByRole('button', { name: /^Done/ }).first().click()
  await page.getByText(`${title}: done.`).waitFor()
  await page.waitForFunction((was) => document.querySelector('.bench .do')?.textContent !== was, title)
  const [line] = await underway()
  assert.equal(line.bake.plan, kept.id)
  const whole = await house.api('GET', `/bakes/${line.bake.id}`)
  assert.equal(whole.did.length, 1)
  assert.deepEqual(wrong, [])
  await close()
})

test('the server stopped under Today and a bake: what is logged waits, and arrives once', async () => {
  const [line] = await underway()
  const { id } = line.bake
  const before = await house.api('GET', `/bakes/${id}`)
  const { page, close } = await visit(browser, house, 'today', { viewport: sizes.phone })
  await page.locator('.bench .do').waitFor()
  await page.evaluate((id) => { location.hash = `/bake/${id}` }, id)
  await page.getByRole('heading', { name: 'Log a reading' }).waitFor()
  await house.stop()
  await page.locator('h2:has-text("Log a reading") + form select').first().selectOption('temperature')
  await page.getByRole('spinbutton').first().fill('24.5')
  await page.getByRole('button', { name: 'Log', exact: true }).click()
  await page.getByText('1 entry waits here').waitFor()
  // and one tap on Today, without a server
  await page.evaluate(() => { location.hash = '/today' })
  await page.locator('.bench .do').waitFor()
  await page.getByRole('button', { name: /^Done/ }).first().click()
  await page.getByText('2 entries wait here').waitFor()
  await house.start()
  await page.getByText(/entr(y|ies) waits? here/).waitFor({ state: 'hidden', timeout: 30_000 })
  const now = await house.api('GET', `/bakes/${id}`)
  assert.equal(now.measured.length, before.measured.length + 1)
  assert.equal(now.measured.at(-1).value, 24.5)
  assert.equal(now.did.length, before.did.length + 1)
  await page.reload()
  await page.waitForTimeout(1000)
  const again = await house.api('GET', `/bakes/${id}`)
  assert.equal(again.measured.length, now.measured.length)
  assert.equal(again.did.length, now.did.length)
  await close()
})

test('what waits outlives the page', async () => {
  const [line] = await underway()
  const { id } = line.bake
  const { context, page, close } = await visit(browser, house, `bake/${id}`, { viewport: sizes.phone })
  await page.getByRole('heading', { name: 'Log a reading' }).waitFor()
  await house.stop()
  await page.locator('h2:has-text("Log a reading") + form select').first().selectOption('rise')
  await page.getByRole('spinbutton').first().fill('31')
  await page.getByRole('button', { name: 'Log', exact: true }).click()
  await page.getByText('1 entry waits here').waitFor()
  await page.close()
  await house.start()
  const next = await context.newPage()
  await next.goto(`${house.url}#/bake/${id}`)
  for (let i = 0; ; i++) {
    const { measured } = await house.api('GET', `/bakes/${id}`)
    const n = measured.filter((m) => m.value === 31).length
    assert.ok(n <= 1)
    if (n === 1) break
    assert.ok(i < 60, 'it never arrived')
    await next.waitForTimeout(500)
  }
  await close()
})

test('what arrives after the bake was finished elsewhere becomes a note to it', async () => {
  const [line] = await underway()
  const { id } = line.bake
  const { context, page, close } = await visit(browser, house, `bake/${id}`, { viewport: sizes.phone })
  await page.getByRole('heading', { name: 'Log a reading' }).waitFor()
  await context.setOffline(true)
  await page.locator('h2:has-text("Log a reading") + form select').first().selectOption('core')
  await page.getByRole('spinbutton').first().fill('97.5')
  await page.getByRole('button', { name: 'Log', exact: true }).click()
  await page.getByText('1 entry waits here').waitFor()
  await page.getByLabel('Crumb').selectOption('open')
  await page.getByRole('button', { name: 'Write down' }).click()
  await page.getByText('2 entries wait here').waitFor()
  await house.api('POST', `/bakes/${id}/finish`, { at: Date.now() })
  const before = await house.api('GET', `/bakes/${id}`)
  await context.setOffline(false)
  await page.getByText(/entr(y|ies) waits? here/).waitFor({ state: 'hidden', timeout: 30_000 })
  const after = await house.api('GET', `/bakes/${id}`)
  assert.deepEqual(after.measured, before.measured)
  assert.deepEqual(after.bake, before.bake)
  assert.deepEqual(after.annotations.map((a) => a.words).sort(), ['measured core of dough: 97.5 °C', 'open crumb'])
  await page.getByText('97.5').first().waitFor()
  await close()
})
