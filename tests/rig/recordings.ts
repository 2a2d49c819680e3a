/** Real recordings of single strikes, from Debian's package freepats (GPL-2.0-or-later with an exception; not copied here). */
import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { firstAbove, bandLimited, resampled, soundFrom, type Sound } from '../../samples/place.ts';
import { readPatch } from './patch.ts';

const folder = '/usr/share/midi/freepats/Drum_000';

/** null where the recordings are there; otherwise the line that says why what needs them is skipped. */
export const recordingsMissing: string | null = existsSync(folder)
  ? null
  : `skipped: needs Debian's package freepats (apt-get install freepats); ${folder} is not there`;

/** Scraped, shaken, blown or rolled: no single instant of impact to find. */
const notStruck =
  /Roll|High_Q|Square|Vibra|Cabasa|Maracas|Whistle|Guiro|Cuica|Shaker|Tree|Tombourine|Pedal|Chinese|Splash/;
/** Below this rate the attack itself is blunted. */
const leastRate = 32_000;
/** A recording that begins louder than this share of its peak was cut into. */
const mostAtStart = 0.02;
/** From 1 % to 20 % of the peak: longer, and something else was recorded before the impact. */
const mostRiseS = 0.0015;
/** Power of a strike is that of its first 50 ms. */
const strikeS = 0.05;
/** Level all recordings are brought to, so that signal to noise means the same for each; leaves room for their peaks. */
const strikeRms = 10 ** (-30 / 20);

export interface Recording extends Sound {
  /** "Tom", "Wood_Block": what kinds of striker it can stand in for. */
  readonly kind: string;
}

/**
 * One-shots with a clean onset, each at the rate asked for and at the same power over its first 50 ms; by name.
 * The onset is where the recording as published first rises above 1 % of its peak.
 */
export function recordings(sampleRate: number): Recording[] {
  const seen = new Set<string>();
  return readdirSync(folder)
    .filter((file) => file.endsWith('.pat') && !notStruck.test(file))
    .sort()
    .flatMap((file) => {
      const [patch] = readPatch(readFileSync(`${folder}/${file}`));
      const name = file.slice(4, -4);
      const sound = soundFrom(name, patch.samples, patch.sampleRate);
      // One of the cymbals is there twice under two names.
      const print = `${patch.samples.length} ${strikePower(sound)}`;
      if (patch.looped || !isClean(sound) || sound.sampleRate > sampleRate || seen.has(print)) return [];
      seen.add(print);
      const ready = resampled(bandLimited(sound), sampleRate);
      const scale = strikeRms / Math.sqrt(strikePower(ready));
      return [
        {
          ...ready,
          samples: ready.samples.map((x) => scale * x),
          kind: name.replace(/(_(Low|Mid|High|Open|Closed))?(_\d)?(_(High|Low|Open|Mute|Bell))?$/, ''),
        },
      ];
    });
}

/** Mean square of the first 50 ms from the onset; what lies past the recording's end counts as silence. */
export function strikePower(sound: Sound): number {
  const first = Math.floor(sound.onset);
  const length = Math.round(strikeS * sound.sampleRate);
  return sound.samples.subarray(first, first + length).reduce((sum, x) => sum + x * x, 0) / length;
}

function isClean(sound: Sound): boolean {
  const { samples, sampleRate } = sound;
  const peak = samples.reduce((max, x) => Math.max(max, Math.abs(x)), 0);
  const riseS = (firstAbove(samples, 0.2) - sound.onset) / sampleRate;
  return sampleRate >= leastRate && Math.abs(samples[0]) <= mostAtStart * peak && riseS <= mostRiseS;
}
