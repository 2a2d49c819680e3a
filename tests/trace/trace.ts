/** What every stage makes of one moment of a take, as lines for whoever debugs it. */
import { countInstants } from '../../analysis/hits/instants.ts';
import { listen } from '../../analysis/hits/detect/listen.ts';
import { prominence } from '../../analysis/hits/detect/prominence.ts';
import { hear, strikesHeard } from '../../analysis/hits/hear.ts';
import { rejections } from '../../analysis/hits/select/rejected.ts';
import type { SavedVoice } from '../../analysis/hits/learn/saved-voice.ts';
import type { Machine } from '../../analysis/machine/machine.ts';
import { layOnBarrel } from '../../analysis/strokes/lay.ts';
import { summariseGroups } from '../../analysis/strokes/groups.ts';
import type { Take } from '../../analysis/take/take.ts';

/** So much before and after the moment is told of, s: half a step of a quick machine. */
export const traceReachS = 0.06;

/**
 * @param take  one whose files are in step; its clocks are not sought
 * @param timeS the moment, s from the files' start
 * @returns a heading for each stage, what it has within `traceReachS` of the moment below it
 */
export async function trace(
  take: Take,
  machine: Machine,
  timeS: number,
  saved: readonly SavedVoice[] = [],
): Promise<string[]> {
  const { channels, barrel } = machine.description;
  const nameOf = (channel: number) => (channel < 0 ? 'no channel' : channels[channel].id);
  const isNear = (at: number) => Math.abs(at - timeS) <= traceReachS;
  const at = (s: number) => `${s.toFixed(6)} s`;
  const lines: string[] = [];
  const stage = (name: string, found: readonly string[]) =>
    lines.push(name, ...(found.length > 0 ? found : ['nothing']).map((line) => `  ${line}`));

  const detected = await Promise.all(take.tracks.map((track) => listen(track, {}, () => undefined)));
  const sure = prominence(detected, take);
  stage(
    'detect: something started to sound',
    detected.flatMap((moments, t) =>
      Array.from(moments.at, (sample, m) => ({ s: sample / take.tracks[t].sampleRate, m }))
        .filter(({ s }) => isNear(s))
        .map(
          ({ s, m }) =>
            `track ${t}, ${at(s)}: likelihood ratio ${moments.strength[m].toFixed(1)}, peak ${moments.peak[m].toFixed(4)}, before it ${moments.peakBefore[m].toFixed(4)}; ${sure[t].bleed[m] ? 'another track hears it louder' : sure[t].sure[m] ? 'surely a strike' : 'perhaps what rang before'}`,
        ),
    ),
  );

  const tracks = await strikesHeard(take, machine, {}, saved);
  stage(
    'explain: strikes of templates',
    tracks.flatMap(({ strikes, sources }, t) =>
      strikes
        .filter((strike) => isNear(strike.timeS))
        .map(
          ({ voice, timeS: s, timeSdS, gain, like, masked }) =>
            `track ${t}, ${at(s)} ± ${(1e6 * timeSdS).toFixed(1)} µs: template ${voice} (${nameOf(sources[voice] ?? -1)}), gain ${gain.toFixed(3)}, likeness ${like.toFixed(3)}${masked ? ', masked' : ''}`,
        ),
    ),
  );
  stage(
    'explain: dropped',
    tracks.flatMap(({ rejected, sources }, t) =>
      rejected
        .filter(({ strike }) => isNear(strike.timeS))
        .map(
          ({ strike, why }) =>
            `track ${t}, ${at(strike.timeS)}: template ${strike.voice} (${nameOf(sources[strike.voice] ?? -1)}): ${rejections[why]}`,
        ),
    ),
  );

  const heard = countInstants(await hear(take, machine, {}, saved), machine, take);
  const { hits } = heard;
  stage(
    'select: dropped',
    (heard.dropped ?? [])
      .filter((dropped) => isNear(dropped.timeS))
      .map(
        ({ track, timeS: s, channel, why }) =>
          `track ${track}, ${at(s)}: ${nameOf(channel)}: ${rejections[why]}`,
      ),
  );

  const strokes = layOnBarrel(heard, machine, take);
  const groups = summariseGroups(strokes, machine);
  stage(
    'lay: hits, their pins and lateness',
    [...hits.timeS.keys()]
      .filter((i) => isNear(hits.timeS[i]))
      .map((i) => {
        const { [i]: step } = strokes.step;
        const pin = step < 0 ? 'no pin' : `turn ${strokes.turn[i]}, step ${step}`;
        const late = step < 0 ? '' : `, ${strokes.latenessMs[i].toFixed(3)} ms`;
        const { [i]: channel } = hits.channel;
        const whole = groups.find((group) => group.channel === nameOf(channel) && group.sector === null);
        const { meanMs = null } = whole ?? {};
        const mean = meanMs === null ? '' : `; the channel’s mean ${meanMs.toFixed(3)} ms`;
        return `${nameOf(channel)}, ${at(hits.timeS[i])}: ${pin}${late}: ${strokes.why[i] ?? hits.why[i] ?? 'used'}${mean}`;
      }),
  );
  const { found, timeAt, secondsPerTurn, startPosition } = strokes.rotation;
  const fromTurn = Math.floor(startPosition / barrel.steps) - 1;
  const turns = Math.ceil(timeS / secondsPerTurn) + 3;
  stage(
    'lay: due by the pattern',
    !found
      ? ['no rotation was found']
      : machine.pins.flatMap(({ channel, step }) =>
          Array.from({ length: turns }, (_, k) => (fromTurn + k) * barrel.steps + step)
            .map((position) => ({ position, s: timeAt(position) }))
            .filter(({ s }) => isNear(s))
            .map(({ s }) => `${nameOf(channel)}, step ${step}: ${at(s)}`),
        ),
  );
  return lines;
}
