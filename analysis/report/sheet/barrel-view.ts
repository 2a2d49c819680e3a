/** What a drawing of the barrel needs to know of it, from the machine or from a report, which stands without its machine. */
import type { Machine } from '../../machine/machine.ts';
import { ofTune } from '../../machine/tune.ts';
import type { EarlierReport } from '../../results/results.ts';
import { channelsOf } from '../reading.ts';

export interface BarrelView {
  readonly barrel: {
    readonly steps: number;
    readonly stepsPerBeat: number;
    readonly sectors: readonly { readonly id: string; readonly from: number }[];
  };
  readonly channels: readonly { readonly id: string; readonly name: string; readonly toleranceMs: number }[];
  /** Every pin of the tune that is shown, by the channel's index. */
  readonly pins: readonly { readonly channel: number; readonly step: number }[];
}

export function viewOfMachine(machine: Machine, tune: string | undefined): BarrelView {
  const { description, pins } = ofTune(machine, tune);
  const channels = description.channels.map(({ id, name, toleranceMs }) => ({
    id,
    name: name ?? id,
    toleranceMs,
  }));
  return { barrel: description.barrel, channels, pins };
}

/** null where the report does not say what the barrel was */
export function viewOfReport(report: EarlierReport): BarrelView | null {
  if (report.barrel === undefined) return null;
  const channels = channelsOf(report);
  const indexOf = new Map(channels.map(({ id }, i) => [id, i]));
  const pins = report.pins.flatMap(({ channel, step }) => {
    const index = indexOf.get(channel);
    return index === undefined ? [] : [{ channel: index, step }];
  });
  return { barrel: report.barrel, channels, pins };
}
