// A step of a plan at another time: by drag, by key, by button; refused where it would break what cannot give.
import assert from 'node:assert/strict'
import { after, before, test } from 'node:test'
import { browse, keepPlan, key, minute, open, sizes, visit } from './house.mjs'

let browser, house, kept
/** The same hour of the day whenever this runs: what may move where hangs on it. */
const tomorrowAtSix = () => { const t = new Date(); return Date.UTC(t.getUTCFullYear(), t.getUTCMonth(), t.getUTCDate() + 1, 6) }
before(async () => { browser = await browse(); house = await open(); kept = await keepPlan(house, { now: tomorrowAtSix() }) })
after(async () => { await browser?.close(); await house?.close() })

/** Begin of a step as its slider says, elapsed minutes. */
const begins = (page, title) => page.getByRole('slider', { name: title, exact: true }).getAttribute('aria-valuenow').then(Number)
async function became(page, title, good, words) {
  for (let i = 0; i < 200; i++) { if (good(await begins(page, title))) return; await page.waitForTimeout(50) }
  assert.fail(`${words}: ${await begins(page, title)}`)
}
/** Moves a step by its button. */
async function tenLater(page, s) {
  await page.getByRole('button', { name: `Move ${s.title}`, exact: true }).first().click()
  await page.getByRole('button', { name: '+\u202f10', exact: true }).click()
  await became(page, s.title, (m) => m === s.from + 10, 'ten minutes later')
}
/** A step after mixing with room to move. */
function loose() {
  const s = kept.plan.steps.find((x) => x.may_start && x.hands_on > 0 && x.do !== 'build' && x.may_start[1] - x.from >= 15)
    ?? kept.plan.steps.find((x) => x.may_start && x.hands_on > 0 && x.may_start[1] - x.from >= 15)
  assert.ok(s, JSON.stringify(kept.plan.steps.map((x) => [x.title, x.from, x.may_start])))
  return s
}

test('by key, by button, and the move taken back', async () => {
  const { page, wrong, close } = await visit(browser, house, `plan/${kept.id}`)
  const s = loose()
  const grip = page.getByRole('slider', { name: s.title, exact: true })
  await grip.focus()
  await grip.press('ArrowRight')
  await became(page, s.title, (m) => m === s.from + 5, 'five minutes later')
  await grip.press('ArrowLeft')
  await became(page, s.title, (m) => m === s.from, 'and back')
  await tenLater(page, s)
  await page.getByRole('button', { name: 'Take the move back' }).click()
  await became(page, s.title, (m) => m === s.from, 'taken back')
  assert.deepEqual(wrong, [])
  await close()
})

test('by drag: what comes after follows while it moves', async () => {
  const { page, wrong, close } = await visit(browser, house, `plan/${kept.id}`)
  const s = loose()
  const grip = page.getByRole('slider', { name: s.title, exact: true })
  await grip.scrollIntoViewIfNeeded()
  const box = await grip.boundingBox()
  const svg = await page.locator('.ribbon svg').first().boundingBox()
  const steps = kept.plan.steps
  const span = Math.max(...steps.map((x) => x.to), kept.plan.ready) - Math.min(...steps.map((x) => x.from))
  const perMinute = svg.width / (span * 1.024)
  const [x, y] = [box.x + box.width / 2, box.y + box.height / 2]
  const by = Math.min(60, s.may_start[1] - s.from)
  await page.mouse.move(x, y)
  await page.mouse.down()
  for (let i = 1; i <= 10; i++) await page.mouse.move(x + (by * perMinute * i) / 10, y)
  await became(page, s.title, (m) => m > s.from, 'it moves while it is held')
  await page.mouse.up()
  await page.getByRole('button', { name: 'Take the move back' }).waitFor()
  await became(page, s.title, (m) => m > s.from && m <= s.from + by + 5, 'it stays where it was let go')
  assert.deepEqual(wrong, [])
  await close()
})

test('past what cannot give it stays at the nearest, and the reason stands there', async () => {
  const { page, wrong, close } = await visit(browser, house, `plan/${kept.id}`, { viewport: sizes.phone })
  const s = loose()
  await page.getByRole('button', { name: `Move ${s.title}`, exact: true }).first().click()
  const grip = page.getByRole('slider', { name: s.title, exact: true })
  await grip.focus()
  let said = ''
  for (let i = 0; i < 40 && !said; i++) {
    await grip.press('PageUp')
    await page.waitForTimeout(150)
    said = await page.locator('.mover .alert').allInnerTexts().then((t) => t.join(' '))
  }
  assert.match(said, /The nearest is \d\d:\d\d\./)
  const at = await begins(page, s.title)
  assert.ok(at >= s.from, `${at}`)
  assert.deepEqual(wrong, [])
  await close()
})

test('other times are kept as another plan; the one before can be had back', async () => {
  const { page, wrong, close } = await visit(browser, house, `plan/${kept.id}`)
  const s = loose()
  await tenLater(page, s)
  await page.getByRole('button', { name: 'Keep these times' }).click()
  await page.getByText('Plan kept.').waitFor()
  const plans = await house.api('GET', `/plans?after=${kept.base - 60 * minute}`)
  assert.equal(plans.length, 1)
  assert.notEqual(plans[0].id, kept.id)
  const step = JSON.parse(plans[0].document).plans[0].steps.find((x) => x.step === s.step)
  assert.equal(step.from, s.from + 10)
  // one step back
  await page.locator('.toast').getByRole('button', { name: 'Undo' }).click()
  await page.getByText('Undone.').waitFor()
  assert.deepEqual((await house.api('GET', `/plans?after=${kept.base - 60 * minute}`)).map((p) => p.id), [kept.id])
  assert.deepEqual(wrong, [])
  await close()
})

test('of a bake under way the new times are what it goes on with; the plan it began with stays', async () => {
  const bake = key(50)
  await house.api('PUT', `/bakes/${bake}`, {
    id: bake, recipe_version: kept.recipe.id, kitchen_version: kept.kitchen, plan: kept.id, culture: null, began: Date.now(), finished: null, zone: 'UTC',
    crumb: null, crust: null, oven_spring: null, taste: null, note: '',
  })
  const { page, wrong, close } = await visit(browser, house, `plan/${kept.id}`)
  const s = loose()
  await tenLater(page, s)
  await page.getByRole('button', { name: 'Keep these times' }).click()
  await page.getByText('Plan kept.').waitFor()
  const plans = await house.api('GET', `/plans?after=${kept.base - 60 * minute}`)
  assert.equal(plans.length, 2)
  assert.equal(JSON.parse(plans.find((p) => p.id !== kept.id).document).follows, bake)
  assert.deepEqual(wrong, [])
  await close()
})
