/**
 * Reports whose lateness was taken against other targets than now, put to those of now: what is meant is a person's wish, and
 * changing it moves nothing on the machine. Where the recording is there the take is analysed anew anyway.
 */
import type { Machine } from '../machine/machine.ts';
import { ofTune, withItsTune } from '../machine/tune.ts';
import { meantMs } from '../machine/target.ts';
import type { EarlierReport } from '../results/results.ts';

type Measured = Pick<EarlierReport, 'groups' | 'pins' | 'channels'>;

/** What is meant of each group and pin, ms against what is meant of the reference; what is not named is meant at 0. */
interface Meant {
  readonly groups: ReadonlyMap<string, number>;
  readonly pins: ReadonlyMap<string, number>;
}

/** A report as it would read with what is meant of the machine now; the same value where nothing is meant otherwise. */
export function againstMeant<R extends Measured>(report: R, machine: Machine): R {
  return put(report, meantOfMachine(machine));
}

/** A take's report as the machine would have it now: of which of its tunes, against what that one means. */
export function asOfNow<R extends Measured & Pick<EarlierReport, 'tune'>>(report: R, given: Machine): R {
  const own = withItsTune(report, given);
  return againstMeant(own, ofTune(given, own.tune));
}

/** The same with what is meant in another report. */
export function asMeantIn<R extends Measured>(report: R, other: Measured): R {
  return put(report, meantIn(other));
}

function put<R extends Measured>(report: R, now: Meant): R {
  const then = meantIn(report);
  if (then.groups.size === 0 && now.groups.size === 0) return report;
  const laterBy = (part: keyof Meant, key: string) => (then[part].get(key) ?? 0) - (now[part].get(key) ?? 0);
  const moved = (ms: number | null, by: number) => (ms === null ? null : ms + by);
  return {
    ...report,
    groups: report.groups.map((group) => {
      const by = laterBy('groups', groupKey(group.channel, group.sector));
      return { ...group, meanMs: moved(group.meanMs, by), medianMs: moved(group.medianMs, by) };
    }),
    pins: report.pins.map((pin) => ({
      ...pin,
      meanMs: moved(pin.meanMs, laterBy('pins', pinKey(pin.channel, pin.step))),
    })),
  };
}

const groupKey = (channel: string, sector: string | null) => JSON.stringify([channel, sector]);
const pinKey = (channel: string, step: number) => JSON.stringify([channel, step]);

function meantIn({ groups, pins, channels = [] }: Measured): Meant {
  const reference = channels.find((channel) => channel.reference)?.id;
  const ofReference =
    groups.find(({ channel, sector }) => channel === reference && sector === null)?.targetMs ?? 0;
  if (groups.every(({ targetMs }) => targetMs === undefined)) return { groups: new Map(), pins: new Map() };
  return {
    groups: new Map(
      groups.map(({ channel, sector, targetMs = 0 }) => [groupKey(channel, sector), targetMs - ofReference]),
    ),
    pins: new Map(
      pins.map(({ channel, step, targetMs = 0 }) => [pinKey(channel, step), targetMs - ofReference]),
    ),
  };
}

function meantOfMachine(machine: Machine): Meant {
  const { channels, barrel } = machine.description;
  if (machine.pins.every(({ targetMs }) => targetMs === undefined))
    return { groups: new Map(), pins: new Map() };
  const ofReference = meantMs(machine, machine.reference, null);
  return {
    groups: new Map(
      channels.flatMap(({ id }, c) =>
        [null, ...barrel.sectors.keys()].map((s): [string, number] => [
          groupKey(id, s === null ? null : barrel.sectors[s].id),
          meantMs(machine, c, s) - ofReference,
        ]),
      ),
    ),
    pins: new Map(
      machine.pins.map(({ channel, step, targetMs = 0 }) => [
        pinKey(channels[channel].id, step),
        targetMs - ofReference,
      ]),
    ),
  };
}
