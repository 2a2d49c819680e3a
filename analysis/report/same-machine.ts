/** Whether a report still describes the machine. Settings do not count: a report keeps its own. */
import type { Machine } from '../machine/machine.ts';
import type { ReportHead } from '../results.ts';

/** false where the machine now has other channels, sectors or tolerances than when the report was made. */
export function describesMachine(report: ReportHead, { description, reference }: Machine): boolean {
  const { barrel, channels } = description;
  const now = channels.map((channel, i) => ({ ...channel, reference: i === reference }));
  return (
    digestOf(report.channels ?? []) === digestOf(now) && barrelOf(report.barrel ?? null) === barrelOf(barrel)
  );
}

function digestOf(channels: NonNullable<ReportHead['channels']>): string {
  const kept = channels.map(({ id, name, toleranceMs, reference, onBarrel }) => [
    id,
    name,
    toleranceMs,
    reference,
    onBarrel,
  ]);
  return JSON.stringify(kept);
}

function barrelOf(barrel: NonNullable<ReportHead['barrel']> | null): string {
  if (barrel === null) return '';
  const { steps, stepsPerBeat, sectors } = barrel;
  return JSON.stringify([steps, stepsPerBeat, sectors.map(({ id, from }) => [id, from])]);
}
