// The first run: from an empty notebook to a plan for Saturday, in the time a coffee takes to drip.
import assert from 'node:assert/strict'
import { after, before, test } from 'node:test'
import { browse, open, sizes, visit } from './house.mjs'

let browser
before(async () => { browser = await browse() })
after(() => browser?.close())

for (const [size, viewport] of Object.entries(sizes)) {
  test(`from nothing to a kept plan for Saturday, on the ${size}`, async (t) => {
    const house = await open()
    t.after(() => house.close())
    await house.api('POST', '/demo/remove', {})
    const { items } = await house.api('GET', '/recipes')
    assert.deepEqual(items, [], 'the notebook is empty')
    const began = Date.now()
    const { page, wrong, close } = await visit(browser, house, '', { viewport })
    await page.getByRole('heading', { name: /This is a bread for Saturday at 18:00/ }).waitFor()
    await page.getByLabel(/Your room/).fill('19')
    await page.getByLabel('Your starter').selectOption('warm')
    await page.getByLabel('On weekdays you are').selectOption('home')
    await page.getByRole('button', { name: /Search again|Find the times/ }).click({ timeout: 60_000 })
    await page.getByRole('button', { name: 'Keep this plan' }).click({ timeout: 60_000 })
    await page.getByText('Plan kept.').waitFor()
    await page.locator('.bench .do').waitFor()
    const took = Date.now() - began
    assert.ok(took < 60_000, `${took} ms`)
    const [plan] = await house.api('GET', '/plans?after=0')
    assert.equal(new Date(plan.ready).toLocaleString('en-GB', { weekday: 'long', timeZone: plan.zone }), 'Saturday')
    const { text } = await house.api('GET', `/kitchen-versions/${plan.kitchen_version}`)
    assert.match(text, /room = "19 °C"/)
    assert.match(text, /fridge_days = 0/)
    assert.deepEqual(wrong, [])
    await close()
  })
}
