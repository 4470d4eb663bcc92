/** The minimal recipe of docs/recipe-file.md: a beginning for a new one. */
export const plainLoaf = `title = "Plain hearth loaf"

[yield]
pieces = 1
piece = "850 g"
shape = "boule"

[formula]
water = "70 %"
salt = "2 %"

[[formula.flour]]
name = "bread flour"
share = "100 %"

[[preferment]]
name = "levain"
kind = "levain"
prefermented_flour = "18 %"
hydration = "100 %"
seed = { inoculation = "25 %" }

[[step]]
do = "build"
what = "levain"
vessel = "jar"
temperature = "25 °C"
until = "ripe"
least = "4 h"
most = "14 h"

[[step]]
do = "mix"
temperature = "25 °C"
time = "15 min"

[[step]]
do = "bulk"
until = "rise 60 %"
most = "9 h"

[[step]]
do = "shape"
vessel = "banneton"
time = "10 min"

[[step]]
do = "proof"
until = "poke"
most = "4 h"

[[step]]
do = "preheat"
temperature = "250 °C"
time = "50 min"

[[step]]
do = "load"

[[step]]
do = "bake"
temperature = "235 °C"
time = "40 min"

[[step]]
do = "cool"
time = "1 h 30 min"
`

interface Fed { seed: number; flour: number; water: number; temperature: number | null; place: string }
/** A feed as a recipe whose only preferment is that feed: the engine tells how it ripens. */
export function ripening(f: Fed, c: { flour: string; hydration: number }): string {
  const seedFlour = f.seed / (1 + c.hydration / 100)
  const hydration = Math.min(400, Math.max(30, ((f.water + f.seed - seedFlour) / (f.flour + seedFlour)) * 100))
  const inoculation = Math.min(400, (f.seed / f.flour) * 100)
  const grain = /rye/.test(c.flour) ? 'grain = "rye"\nash = "1.2 %"' : /whole/.test(c.flour) ? 'ash = "1.6 %"' : 'ash = "0.55 %"'
  return `title = "Starter"
[yield]
pieces = 1
piece = "800 g"
shape = "boule"
[formula]
water = "100 %"
salt = "2 %"
[[formula.flour]]
name = "flour"
share = "100 %"
${grain}
[[preferment]]
name = "starter"
kind = "levain"
prefermented_flour = "20 %"
hydration = "${hydration.toFixed(1)} %"
seed = { inoculation = "${inoculation.toFixed(1)} %", hydration = "${Math.min(400, Math.max(30, c.hydration)).toFixed(0)} %" }
[[step]]
do = "build"
what = "starter"
vessel = "jar"
place = "${f.place === 'fridge' ? 'fridge' : 'room'}"
${f.temperature === null ? '' : `temperature = "${f.temperature.toFixed(1)} °C"`}
time = "${f.place === 'fridge' ? '72 h' : '24 h'}"
[[step]]
do = "mix"
[[step]]
do = "proof"
time = "10 min"
[[step]]
do = "load"
[[step]]
do = "bake"
temperature = "230 °C"
time = "40 min"
`
}
