// Plucked strings computed from their pitches: a burst of noise goes round a delay line as long as one period and
// loses its high tones on the way (K. Karplus, A. Strong, 'Digital synthesis of plucked-string and drum timbres',
// Computer Music Journal 7, 1983; the all-pass that tunes it after D. Jaffe, J. Smith, same volume).

export const frequency = (midi) => 440 * 2 ** ((midi - 69) / 12);

/** One plucked string as samples between -1 and 1. */
export function pluck(midi, rate, seconds = 2.2) {
  const period = rate / frequency(midi);
  // averaging two neighbours delays by half a sample; the all-pass makes up the fraction that is left
  const length = Math.floor(period - 0.5 - 0.1);
  const rest = period - 0.5 - length;
  const tune = (1 - rest) / (1 + rest);
  const line = new Float32Array(length);
  let seed = 12345 + midi;
  let level = 0;
  for (let i = 0; i < length; i++) {
    seed = (seed * 1103515245 + 12345) % 2147483648;
    level = 0.5 * level + 0.5 * (seed / 1073741824 - 1); // a soft finger, not a plectrum
    line[i] = level;
  }
  const mean = line.reduce((sum, v) => sum + v, 0) / length;
  const samples = new Float32Array(Math.round(rate * seconds));
  const loss = 0.5 ** (1 / (frequency(midi) * 0.9)); // half as loud after 0.9 s
  let before = 0;
  let into = 0;
  let out = 0;
  for (let i = 0, at = 0; i < samples.length; i++, at = (at + 1) % length) {
    const now = i < length ? line[at] - mean : line[at];
    samples[i] = now;
    const soft = loss * 0.5 * (now + before);
    before = now;
    out = tune * soft + into - tune * out;
    into = soft;
    line[at] = out;
  }
  return samples;
}

/** A chord, one string after another, as samples. */
export function strummed(pitches, rate, gap = 0.045) {
  const strings = pitches.map((midi) => pluck(midi, rate));
  const total = new Float32Array(strings.length ? strings[0].length + Math.round(gap * rate) * strings.length : 1);
  strings.forEach((samples, i) => {
    const start = Math.round(i * gap * rate);
    samples.forEach((v, j) => (total[start + j] += v));
  });
  const peak = total.reduce((most, v) => Math.max(most, Math.abs(v)), 1e-9);
  return total.map((v) => (0.6 * v) / peak);
}

let context;
let sounding;

/** Strums MIDI pitches, low to high. */
export function strum(pitches) {
  if (!pitches.length) return;
  context ??= new AudioContext();
  context.resume();
  const samples = strummed(pitches, context.sampleRate);
  const buffer = context.createBuffer(1, samples.length, context.sampleRate);
  buffer.copyToChannel(samples, 0);
  sounding?.stop();
  sounding = new AudioBufferSourceNode(context, { buffer });
  sounding.connect(context.destination);
  sounding.start();
  document.body.dataset.heard = pitches.join(" ");
}
