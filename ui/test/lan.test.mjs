// A phone of the house: plain HTTP by the machine's own address, so no secure context.
import assert from 'node:assert/strict'
import { after, before, test } from 'node:test'
import { browse, keepPlan, open, sizes } from './house.mjs'

let browser, house
before(async () => { browser = await browse(); house = await open(['--lan']) })
after(async () => { await browser?.close(); await house?.close() })

/** A pairing address; none on a machine without a network. */
async function code(t) {
  const { address } = await house.api('POST', '/pairing', {})
  if (new URL(address).hostname.startsWith('127.')) { t.skip('this machine has no address but its own'); return null }
  return address
}

test('a phone pairs once, and every page works without a secure context', async (t) => {
  const address = await code(t)
  if (!address) return
  await keepPlan(house)
  const context = await browser.newContext({ viewport: sizes.phone, hasTouch: true, isMobile: true })
  const page = await context.newPage()
  const wrong = []
  page.on('pageerror', (e) => wrong.push(String(e)))
  const home = new URL('/', address).href
  // not yet: said in words a person can read
  const refused = await page.goto(home)
  assert.equal(refused.status(), 401)
  await page.getByText('this device is not paired yet').waitFor()
  assert.match(refused.headers()['content-type'], /text\/html/)
  await page.goto(address)
  await page.locator('.bench .do').waitFor()
  assert.deepEqual(await page.evaluate(() => [isSecureContext, typeof crypto.randomUUID, 'wakeLock' in navigator, 'serviceWorker' in navigator]), [false, 'undefined', false, false])
  await page.getByText('This page sounds while it is open').waitFor()
  const title = await page.locator('.bench .do').innerText()
  await page.getByRole('button', { name: /^Done/ }).first().tap()
  await page.getByText(`${title}: done.`).waitFor()
  for (const [path, words] of [['recipes', 'Tidewater batard'], ['plan', 'Plan'], ['kitchen', 'Room air'], ['culture', 'Culture'], ['oven', 'Programme'], ['notebook', 'Notebook'], ['settings', 'A phone on the counter']]) {
    await page.goto(`${home}#/${path}`)
    await page.locator('main').getByText(words).first().waitFor()
  }
  const { items } = await house.api('GET', '/recipes')
  await page.goto(`${home}#/recipes/${items[0].id}`)
  await page.getByLabel('water, percent').waitFor()
  assert.deepEqual(wrong, [])

  // the code is used up: another device is told so
  const other = await browser.newContext({ viewport: sizes.phone })
  const second = await other.newPage()
  const answer = await second.goto(address)
  assert.equal(answer.status(), 403)
  await second.getByText('a code works once, and for ten minutes').waitFor()
  await second.getByText('Settings, Pair a device').waitFor()

  // paired over a restart
  await house.stop()
  await house.start()
  await page.goto(`${home}#/today`)
  await page.reload()
  await page.locator('.bench .do').waitFor()
  await context.close()
  await other.close()
})

test('a code that a newer one replaced works no more', async (t) => {
  const address = await code(t)
  if (!address) return
  await code(t)
  const page = await browser.newPage()
  assert.equal((await page.goto(address)).status(), 403)
  await page.getByText('This pairing code works no more').first().waitFor()
  await page.close()
})
