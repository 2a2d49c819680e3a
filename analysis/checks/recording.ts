import { finding } from '../results/catalogue.ts';
import { withMinus } from '../words/minus.ts';
import { grouped } from '../numbers/grouped.ts';
import { clippedWorthTelling } from '../strokes/levels.ts';
import type { Check } from './check.ts';
import { counted, listed } from '../words/names.ts';

/** Strikes that stand less than this above the background are timed worse than a shim is worth; common practice, no source. */
const leastLevelOverNoiseDb = 20;

export const clipped: Check = {
  id: 'clipped',
  looksFor: 'Recordings that went over full scale.',
  run: ({ take, hearing }) =>
    hearing.tracks.flatMap(({ clippedSamples }, i) => {
      const { file, track } = take.tracks[i];
      if (clippedSamples < clippedWorthTelling) return [];
      const message = `${counted(clippedSamples, 'sample')} at full scale on ${file} track ${track}: the sound is cut off there`;
      return [finding('clipped', message, { file, place: `track ${track}` })];
    }),
};

export const noisy: Check = {
  id: 'noisy',
  looksFor: 'Channels whose strikes barely stand above the background.',
  run: ({ machine, take, hearing: { hits, tracks } }) =>
    machine.description.channels.flatMap(({ id }, channel) => {
      const over = [...hits.channel.keys()]
        .filter((i) => hits.channel[i] === channel && hits.track[i] >= 0)
        .map((i) => ({ track: hits.track[i], db: hits.levelDb[i] - tracks[hits.track[i]].noiseDb }))
        .sort((a, b) => a.db - b.db);
      if (over.length === 0) return [];
      const { track, db } = over[over.length >> 1];
      if (!(db < leastLevelOverNoiseDb)) return [];
      const { file } = take.tracks[track];
      const message = `the strikes of ${id} peak only ${withMinus(db.toFixed(0))} dB above the background on ${file}`;
      return [finding('noisy', message, { channel: id, file })];
    }),
};

export const silentTrack: Check = {
  id: 'silent-track',
  looksFor: 'Tracks on which channels were expected and nothing was heard, or nothing that is a channel’s.',
  run: ({ machine, take, hearing: { hits, tracks, unknown = [] } }) => {
    const heard = take.tracks.map(
      (_, i) => hits.track.includes(i) || unknown.some(({ track }) => track === i),
    );
    const nothing = !heard.includes(true);
    const pinned = new Set(machine.pins.map(({ channel }) => channel));
    return take.tracks.flatMap(({ file, track, assigned, channels }, i) => {
      const { noiseDb, soundsStarted = 0 } = tracks[i];
      // An unassigned track may hold what another track holds more clearly; only silence is worth a word there.
      if (heard[i] || !(assigned || noiseDb === -Infinity || nothing)) return [];
      // Of strikers without a pin, as another tune may have them, none was expected.
      const isUnplayed = channels.length > 0 && !channels.some((channel) => pinned.has(channel));
      if (isUnplayed && soundsStarted === 0) return [];
      const where = `${file} track ${track}`;
      const details = { file, place: `track ${track}` };
      if (soundsStarted === 0) return [finding('silent-track', `no strike heard on ${where}`, details)];
      const sounds = `${counted(soundsStarted, 'sound')} heard on ${where} could be given to no channel`;
      if (!assigned) return [finding('unknown-sound', sounds, details)];
      const own = listed(channels.map((channel) => machine.description.channels[channel].id));
      return [finding('silent-track', `no strike of ${own} heard: ${sounds}`, details)];
    });
  },
};

export const badSamples: Check = {
  id: 'bad-samples',
  looksFor: 'Samples that are not numbers.',
  run: ({ take, hearing }) =>
    hearing.tracks.flatMap(({ badSamples }, i) => {
      const { file, track } = take.tracks[i];
      if (badSamples === 0) return [];
      const message = `${counted(badSamples, 'sample')} of ${file} track ${track} ${badSamples === 1 ? 'is not a number' : 'are not numbers'}`;
      return [finding('bad-samples', message, { file, place: `track ${track}` })];
    }),
};

export const unknownSound: Check = {
  id: 'unknown-sound',
  looksFor: 'Hits whose sound belongs to no channel that could be told.',
  run: ({ take, hearing: { hits, unknown: sounds = [] } }) => {
    const asked = sounds.map(({ track, timeS, count, pitchHz }) => {
      const pitch = pitchHz === null ? '' : ` with a pitch near ${pitchHz.toFixed(0)} Hz`;
      const message = `a sound${pitch}, heard ${counted(count, 'time')}, belongs to no channel that could be told: the strike at ${timeS.toFixed(2)} s is one`;
      return finding('unknown-sound', message, {
        file: take.tracks[track].file,
        place: `${timeS.toFixed(2)} s`,
      });
    });
    const unknown = [...hits.channel.keys()].filter((i) => hits.channel[i] < 0);
    const tracks = grouped(unknown, (i) => hits.track[i]);
    const strays = [...tracks].map(([track, strays]) => {
      const where = track < 0 ? 'the markers' : take.tracks[track].file;
      const message = `${counted(strays.length, 'hit')} on ${where} could not be given a channel, the first at ${hits.timeS[strays[0]].toFixed(2)} s`;
      return finding('unknown-sound', message, track < 0 ? {} : { file: where });
    });
    return [...asked, ...strays];
  },
};

/** What the readers noticed, in the same words. */
export const readersNotices: Check = {
  id: 'readers-notices',
  looksFor: 'Files of the take that could only be used in part.',
  run: ({ take }) =>
    take.notices.map(({ kind, message, file, place }) => finding(kind, message, { file, place })),
};
