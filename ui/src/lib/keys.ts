/** A UUIDv7, made without `crypto.randomUUID`: a phone on the home network has no secure context. */
export function key(at = Date.now()): string {
  const b = new Uint8Array(16)
  if ('crypto' in globalThis) crypto.getRandomValues(b)
  else for (let i = 0; i < 16; i++) b[i] = Math.floor(Math.random() * 256)
  for (let i = 0, t = at; i < 6; i++, t = Math.floor(t / 256)) b[5 - i] = t % 256
  b[6] = (b[6]! & 0x0f) | 0x70
  b[8] = (b[8]! & 0x3f) | 0x80
  const hex = [...b].map((x) => x.toString(16).padStart(2, '0')).join('')
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join('-')
}
