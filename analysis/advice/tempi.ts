/**
 * One set of settings for several tempi. A striker's fall takes the same time at every tempo, while all that turns with the
 * barrel takes longer when it turns slower; so what is right at one tempo is off at another, and only the worst over all
 * tempi can be made least. Each group at each tempo is a group of its own here, and an adjuster moves it by what its unit is
 * there; the planner then needs to know nothing of tempi.
 */
import { secondsPerTurnAt, standardGravity, fallMs } from '../machine/effects.ts';
import type { Machine } from '../machine/machine.ts';
import type { IntegerSolver, Run } from '../ports.ts';
import type { Advice, EarlierReport } from '../results/results.ts';
import { leastAloneMs } from './alone.ts';
import { installedOf, predict, worstMeanMs, type Belief } from './belief.ts';
import { channelTempi, type ChannelTempo } from './tempo.ts';

export interface AtTempi {
  /** Groups of all tempi of which the takes say enough, one tempo after the other. */
  readonly belief: Belief;
  /** Of each of its groups, the index of the group in the belief at the take's tempo. */
  readonly of: readonly number[];
  readonly tempi: readonly AtTempo[];
  readonly channels: readonly ChannelTempo[];
}

interface AtTempo {
  readonly bpm: number;
  readonly secondsPerTurn: number;
  /** This tempo alone, as the machine stands now. */
  readonly belief: Belief;
  /** Channels of which the takes do not know at this tempo whether they are in tolerance; it is then not planned for. */
  readonly unsure: readonly string[];
}

/** Tempi that differ by less are one: that of the take. */
const SAME_TEMPO = 0.005;

/** null where the machine names no tempi, or none of them is known well enough */
export function atTempi(belief: Belief, reports: readonly EarlierReport[]): AtTempi | null {
  const { machine } = belief;
  const { tempi: wanted = [] } = machine.description;
  if (wanted.length === 0) return null;
  const measured = reports.filter(({ tempo }) => tempo.secondsPerTurn !== null);
  const channels = channelTempi(machine, measured, belief);
  const tempi = wanted.map((bpm) => tempoBelief(belief, channels, bpm));
  const told = tempi.filter(({ unsure }) => unsure.length === 0);
  if (told.length === 0) return { belief, of: [...belief.groups.keys()], tempi, channels };
  const all = <T>(rows: (one: Belief) => readonly T[]) => told.flatMap((one) => rows(one.belief));
  return {
    belief: {
      ...told[0].belief,
      groups: told.flatMap((one) => one.belief.groups.map((group) => ({ ...group, bpm: one.bpm }))),
      share: all(({ share }) => share),
      groupCovariance: all(({ groupCovariance }) => groupCovariance),
      wanderMs: all(({ wanderMs }) => wanderMs),
    },
    of: told.flatMap(() => [...belief.groups.keys()]),
    tempi,
    channels,
  };
}

function tempoBelief(belief: Belief, channels: readonly ChannelTempo[], bpm: number): AtTempo {
  const { machine } = belief;
  const { adjusters } = machine.description;
  const secondsPerTurn = secondsPerTurnAt(bpm, machine.description);
  const slower = secondsPerTurn / belief.secondsPerTurn;
  // Free fall and what is given in ms are the same at every tempo; shims, levers and rings go with the turn's time.
  const ratio = adjusters.map(({ perUnit }) => ('dropMm' in perUnit || 'ms' in perUnit ? 1 : slower));
  const installed = installedOf(machine);
  const now = predict(belief, installed);
  const isSame = Math.abs(slower - 1) < SAME_TEMPO;
  const groups = belief.groups.map((group, g) => {
    const there = channels
      .find(({ channel }) => channel === group.channel)
      ?.at(secondsPerTurn)
      .find(({ sector }) => sector === group.sector);
    // At the take's own tempo its belief is the better one: it knows what wandered since the takes before.
    const { meanMs, ci95Ms } = isSame ? now[g] : (there ?? { meanMs: now[g].meanMs, ci95Ms: Infinity });
    return { ...group, meanMs, ci95Ms };
  });
  const scaled = (rows: readonly Float64Array[]) =>
    rows.map((row) => row.map((value, a) => value * ratio[a]));
  const unsure = groups.flatMap(({ channel, ci95Ms, toleranceMs }) =>
    ci95Ms > toleranceMs ? [machine.description.channels[channel].id] : [],
  );
  return {
    bpm,
    secondsPerTurn,
    belief: {
      ...belief,
      takeSettings: installed,
      groups,
      share: scaled(belief.share),
      groupCovariance: scaled(belief.groupCovariance),
    },
    unsure: [...new Set(unsure)],
  };
}

/**
 * What the settings do at each tempo, what each alone could have, and which channels forbid more.
 *
 * @throws the signal's reason when the run is stopped
 */
export async function tempiOf(
  { tempi, channels }: AtTempi,
  settings: readonly number[],
  solve: IntegerSolver,
  run: Run,
): Promise<NonNullable<Advice['tempi']>> {
  const rows = [];
  for (const { bpm, secondsPerTurn, belief, unsure } of tempi) {
    const isTold = unsure.length === 0;
    const afterMs = worstMeanMs(belief, settings);
    rows.push({
      bpm,
      secondsPerTurn,
      worstBeforeMs: isTold ? worstMeanMs(belief, installedOf(belief.machine)) : null,
      worstAfterMs: isTold ? afterMs : null,
      aloneMs: isTold ? await leastAloneMs(belief, settings, solve, run) : null,
      unsure: [...unsure],
    });
  }
  return { rows, forbids: forbidding(tempi, channels) };
}

/**
 * Shims and levers turn a channel's lateness about the barrel: A·T + d with A to be chosen, d the time by which its fall is
 * longer than the reference's. The best A leaves |d|·(T₁ − T₀)/(T₁ + T₀) at both ends of the tempi: where that is beyond
 * tolerance, nothing but another fall time helps.
 */
function forbidding(tempi: readonly AtTempo[], channels: readonly ChannelTempo[]) {
  const turns = tempi.map(({ secondsPerTurn }) => secondsPerTurn);
  const [least, most] = [Math.min(...turns), Math.max(...turns)];
  const { machine } = tempi[0].belief;
  if (most / least - 1 < SAME_TEMPO) return [];
  return channels.flatMap(({ channel, delayMs, delayCi95Ms }) => {
    const { id, toleranceMs } = machine.description.channels[channel];
    const allowedMs = (toleranceMs * (most + least)) / (most - least);
    if (channel === machine.reference || Math.abs(delayMs) - delayCi95Ms <= allowedMs) return [];
    const tooMuchMs = Math.abs(delayMs) - allowedMs;
    const longer = delayMs > 0;
    const how = `${tooMuchMs.toFixed(1)} ms ${longer ? 'shorter' : 'longer'}`;
    const message = `${id} strikes ${Math.abs(delayMs).toFixed(1)} ± ${delayCi95Ms.toFixed(1)} ms ${longer ? 'longer' : 'shorter'} after its release than the reference, at every tempo; these tempi allow ${allowedMs.toFixed(1)} ms within its tolerance. Its fall or flight would have to take ${how}${heightWords(machine, channel, longer ? -tooMuchMs : tooMuchMs)}`;
    return [{ channel: id, delayMs, ci95Ms: delayCi95Ms, allowedMs, message }];
  });
}

/** " (a drop of 131 mm instead of 190 mm)" where the machine names the height. */
function heightWords({ description }: Machine, channel: number, byMs: number): string {
  const { id } = description.channels[channel];
  for (const { perUnit, shifts, installed } of description.adjusters) {
    if (!('dropMm' in perUnit) || shifts.channels?.includes(id) !== true) continue;
    const heightMm = perUnit.dropHeightMm + installed * perUnit.dropMm;
    const fallS = (fallMs(heightMm) + byMs) / 1000;
    // h = g·t²/2
    if (fallS > 0)
      return ` (a drop of ${Math.round(500 * standardGravity * fallS ** 2)} mm instead of ${Math.round(heightMm)} mm)`;
  }
  return '';
}

export function tempiWords({ rows, forbids }: NonNullable<Advice['tempi']>): string[] {
  const told = rows.filter(({ worstAfterMs }) => worstAfterMs !== null);
  const figures = (values: readonly (number | null)[]) =>
    values.map((value) => (value ?? 0).toFixed(1)).join(', ');
  const names = (of: typeof rows) => of.map(({ bpm }) => String(bpm)).join(', ');
  const unsure = rows.filter((row) => row.unsure.length > 0);
  return [
    ...(told.length > 0
      ? [
          `At ${names(told)} beats a minute the worst means come to ${figures(told.map(({ worstAfterMs }) => worstAfterMs))} ms with these settings; each tempo alone could have ${figures(told.map(({ aloneMs }) => aloneMs))} ms.`,
        ]
      : []),
    ...(unsure.length > 0
      ? [
          `At ${names(unsure)} beats a minute the takes do not tell (${[...new Set(unsure.flatMap((row) => row.unsure))].slice(0, 3).join(', ')}): record a take there before it is planned for.`,
        ]
      : []),
    ...forbids.map(({ message }) => `${message}.`),
  ];
}
