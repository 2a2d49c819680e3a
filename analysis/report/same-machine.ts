/** Whether a report still describes the machine. Settings do not count: a report keeps its own. */
import type { Machine } from '../machine/machine.ts';
import type { ReportHead } from '../results/results.ts';

/** false where the machine now has other channels, sectors or tolerances than when the report was made. */
export function describesMachine(report: ReportHead, machine: Machine): boolean {
  const now = channelsNow(machine);
  const same = ({ channels = [] }: ReportHead) => channelsOf(channels, all) === channelsOf(now, all);
  return same(report) && sameBarrel(report, machine);
}

/** The same but for names and tolerances, which change no measurement. */
export function sameParts(report: ReportHead, machine: Machine): boolean {
  const { channels = [] } = report;
  return (
    channelsOf(channels, parts) === channelsOf(channelsNow(machine), parts) && sameBarrel(report, machine)
  );
}

type ChannelRow = NonNullable<ReportHead['channels']>[number];

const parts = ['id', 'reference', 'onBarrel'] as const;
const all = [...parts, 'name', 'toleranceMs'] as const;

function channelsNow({ description, reference }: Machine): ChannelRow[] {
  return description.channels.map((channel, i) => ({ ...channel, reference: i === reference }));
}

function channelsOf(channels: readonly ChannelRow[], keys: readonly (keyof ChannelRow)[]): string {
  return JSON.stringify(channels.map((channel) => keys.map((key) => channel[key])));
}

function sameBarrel(report: ReportHead, { description }: Machine): boolean {
  return barrelOf(report.barrel ?? null) === barrelOf(description.barrel);
}

function barrelOf(barrel: NonNullable<ReportHead['barrel']> | null): string {
  if (barrel === null) return '';
  const { steps, stepsPerBeat, sectors } = barrel;
  return JSON.stringify([steps, stepsPerBeat, sectors.map(({ id, from }) => [id, from])]);
}
