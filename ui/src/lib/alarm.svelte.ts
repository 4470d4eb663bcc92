/** Sound, vibration, and the screen kept on: each only where the browser allows it. */
export const alarm = $state({ sound: false, awake: false })
export const canStayAwake = typeof navigator !== 'undefined' && 'wakeLock' in navigator && isSecureContext
let audio: AudioContext | null = null
let lock: WakeLockSentinel | null = null

/** Browsers let a page sound only after a tap. */
export async function soundOn() {
  if (alarm.sound) { alarm.sound = false; return }
  audio ??= new AudioContext()
  await audio.resume()
  alarm.sound = audio.state === 'running'
  if (alarm.sound) tone([660], 0.1)
}
function tone(pitches: number[], long: number) {
  if (!audio) return
  pitches.forEach((p, i) => {
    const from = audio!.currentTime + i * (long + 0.12)
    const [o, g] = [audio!.createOscillator(), audio!.createGain()]
    o.frequency.value = p
    g.gain.setValueAtTime(0.0001, from)
    g.gain.exponentialRampToValueAtTime(0.4, from + 0.02)
    g.gain.exponentialRampToValueAtTime(0.0001, from + long)
    o.connect(g).connect(audio!.destination)
    o.start(from)
    o.stop(from + long + 0.05)
  })
}
export function ring() {
  if (alarm.sound) tone([660, 880, 660, 880], 0.28)
  navigator.vibrate?.([300, 150, 300])
}
export async function stayAwake() {
  if (lock) { await lock.release(); lock = null; alarm.awake = false; return }
  try {
    lock = await navigator.wakeLock.request('screen')
    alarm.awake = true
    lock.addEventListener('release', () => { if (document.visibilityState === 'visible') { lock = null; alarm.awake = false } })
  } catch { alarm.awake = false }
}
document.addEventListener('visibilitychange', () => {
  if (alarm.awake && document.visibilityState === 'visible') navigator.wakeLock.request('screen').then((l) => { lock = l }, () => { alarm.awake = false; lock = null })
})
