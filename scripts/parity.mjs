// Asks the WebAssembly every question of a file, and writes a line of answers for each:
//   node parity.mjs READER.wasm QUESTIONS ANSWERS TIMES
// Questions are JSON, one a line; times are milliseconds, the fastest of a few.
import { readFileSync, writeFileSync } from "node:fs";

const [wasm, questions, answers, times] = process.argv.slice(2);
const { instance } = await WebAssembly.instantiate(readFileSync(wasm), {});
const { memory, alloc, dealloc, call } = instance.exports;

function ask(question) {
  const bytes = new TextEncoder().encode(question);
  const at = alloc(bytes.length);
  new Uint8Array(memory.buffer, at, bytes.length).set(bytes);
  const told = call(at, bytes.length);
  dealloc(at, bytes.length);
  const length = new DataView(memory.buffer).getUint32(told, true);
  const text = new TextDecoder().decode(new Uint8Array(memory.buffer, told + 4, length));
  dealloc(told, length + 4);
  return text;
}

const out = [];
const took = [];
for (const question of readFileSync(questions, "utf8").trimEnd().split("\n")) {
  let best = Infinity;
  const began = performance.now();
  do {
    const from = performance.now();
    const answer = ask(question);
    best = Math.min(best, performance.now() - from);
    if (best === Infinity || out.length === took.length) out.push(answer);
  } while (performance.now() - began < 100);
  took.push(best);
}
writeFileSync(answers, out.join("\n") + "\n");
writeFileSync(times, took.map((t) => t.toFixed(3)).join("\n") + "\n");
