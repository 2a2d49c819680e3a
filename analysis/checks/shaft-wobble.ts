/**
 * Shaft wobble: the barrel's course rises and falls with a turn of one of the drive's shafts, or of the barrel. Which
 * shafts these hits cannot show, and which they cannot tell apart, is said too: hits come locked to the beat, so a shaft that turns
 * a whole number of times between them always stands the same.
 */
import type { Machine } from '../machine/machine.ts';
import { finding } from '../results/catalogue.ts';
import type { SectionPlot } from '../results/results.ts';
import { capital } from '../words/names.ts';
import type { Check, Study } from './check.ts';
import { courseOf } from './course.ts';
import { thinned } from './plot-points.ts';
import { beatsOf, round, shaftNames, shafts, type Shaft } from './shafts.ts';
import { wobblesOf, type Wobble, type Wobbles } from './wobbles.ts';

/** Points of the plot. */
const periodsDrawn = 150;
export const shaftWobble: Check = {
  id: 'shaft-wobble',
  looksFor: 'A course of the barrel that rises and falls with one of the drive’s shafts.',
  run: (study) =>
    beyondRounding(study, wobblesOf(study)?.found ?? []).map((wobble) =>
      finding('shaft-wobble', sentence(study, wobble)),
    ),
  section: (study) => {
    const wobbles = wobblesOf(study);
    const course = courseOf(study);
    if (wobbles === null || course === null) return null;
    const { hidden, locked, gridBeats } = wobbles;
    const found = beyondRounding(study, wobbles.found);
    const sentences = found.map((wobble) => `${capital(sentence(study, wobble))}.`);
    if (found.length === 0) sentences.push('No shaft’s turn shows in the course of this take.');
    if (hidden.length > 0)
      sentences.push(
        `Not to be seen with these hits: ${shaftNames(hidden)}. All hits of the reference lie on a grid of ${beatsOf(gridBeats)}, in which they turn a whole number of times. A pin of the reference off that grid would show them, or a reference on another shaft.`,
      );
    if (locked.length > 0)
      sentences.push(
        `Locked to the barrel: ${shaftNames(locked)}. Their wobble comes back at the same pins every turn and looks like pins of the reference that are off; only that it follows a sine over the pins speaks for a shaft. A recording of the shaft itself would settle it.`,
      );
    return { id: 'shaft-wobble', title: 'Shafts', sentences, plot: periodogram(wobbles, study.machine) };
  },
};

/** Rounded times beat against an even pulse: no time is moved by more than half a step, so no shaft is blamed for less. */
function beyondRounding({ strokes: { stepMs = 0 } }: Study, found: readonly Wobble[]): Wobble[] {
  return found.filter(({ amplitudeMs }) => amplitudeMs > stepMs / 2);
}

/** How strongly the course rises and falls with every period, and where the shafts are. */
function periodogram({ spectrum, hidden, gridBeats }: Wobbles, machine: Machine): SectionPlot {
  const [longest, shortest] = [spectrum[0]?.beats ?? 0, spectrum.at(-1)?.beats ?? 0];
  const shown = shafts(machine).filter(
    (shaft) =>
      !shaft.harmonic &&
      !hidden.includes(shaft) &&
      shaft.beatsPerTurn <= longest &&
      shaft.beatsPerTurn >= shortest,
  );
  // A shaft that turns faster than the hits come shows at the period onto which it folds.
  const folded = shafts(machine).flatMap((shaft) => {
    if (shaft.harmonic || hidden.includes(shaft) || shaft.beatsPerTurn >= shortest) return [];
    const turns = gridBeats / shaft.beatsPerTurn;
    const away = Math.abs(turns - Math.round(turns)) / gridBeats;
    return 1 / away <= longest ? [{ at: 1 / away, name: `${shaft.name}, folded` }] : [];
  });
  // Only the strongest of each stretch: valleys between peaks say nothing.
  const stretch = Math.max(1, Math.ceil(spectrum.length / periodsDrawn));
  const peaks = spectrum.flatMap((_, i) =>
    i % stretch === 0
      ? [spectrum.slice(i, i + stretch).reduce((a, b) => (b.amplitudeMs > a.amplitudeMs ? b : a))]
      : [],
  );
  const line = (of: (one: Wobbles['spectrum'][number]) => number) =>
    thinned(peaks.map((one): [number, number] => [one.beats, of(one)]));
  return {
    xLabel: 'beats a turn',
    yLabel: 'ms late and early',
    scale: 'logarithmic',
    rules: [
      ...shown.map(({ beatsPerTurn, name }) => ({ axis: 'x' as const, at: beatsPerTurn, name })),
      ...folded.map(({ at, name }) => ({ axis: 'x' as const, at, name })),
    ],
    series: [
      { name: 'the course of the barrel', line: true, points: line(({ amplitudeMs }) => amplitudeMs) },
      { name: 'what scatter alone may reach', line: true, points: line(({ limitMs }) => limitMs) },
    ],
  };
}

function sentence(
  study: Study,
  { shaft, beatsPerTurn, locked, amplitudeMs, ci95Ms, amplitudeDegrees, p, alike }: Wobble,
) {
  const course = courseOf(study)!;
  const seconds = round(beatsPerTurn * course.secondsPerBeat);
  const what =
    shaft === null
      ? `something turns once every ${beatsOf(beatsPerTurn)} (${seconds} s), which is none of the shafts under "drive" in machine.jsonc,`
      : `the ${shaft.name} (a turn in ${beatsOf(beatsPerTurn)}, ${seconds} s)`;
  const angle =
    shaft === null
      ? ''
      : `, ${amplitudeDegrees.toFixed(2)}° of ${shaft.harmonic ? 'the barrel’s' : 'its'} turn`;
  const others =
    alike.length === 0
      ? ''
      : `; these hits cannot tell it from ${shaftNames(alike)}: ${apartBy(study, beatsPerTurn, alike)}`;
  const instead = locked
    ? '; it comes back at the same pins every turn, so look at this shaft before blaming the reference’s pins'
    : '';
  return `${what} makes the beat late and early by ${amplitudeMs.toFixed(2)} ± ${ci95Ms.toFixed(2)} ms${angle} (${byChance(p)})${others}${instead}; mended, the beat would be steadier by that, while strikers keep their places against each other`;
}

/** What would tell two shafts apart: a pin off the grid where they fold onto each other, or a longer take where they lie too close. */
function apartBy(study: Study, beatsPerTurn: number, alike: readonly Shaft[]): string {
  const { gridBeats } = wobblesOf(study)!;
  const { beats } = courseOf(study)!;
  const span = beats[beats.length - 1] - beats[0];
  const nearest = Math.min(...alike.map((other) => Math.abs(1 / beatsPerTurn - 1 / other.beatsPerTurn)));
  return nearest < 1 / span
    ? `a take of ${Math.ceil(1 / nearest)} beats or more would`
    : `a pin of the reference off its grid of ${beatsOf(gridBeats)} would`;
}

/** Beyond this nobody is helped by the figure. */
const certainly = 1e-6;

function byChance(p: number): string {
  return p < certainly
    ? 'certainly not chance'
    : `by chance once in ${Math.floor(1 / p).toLocaleString('en')} takes`;
}
