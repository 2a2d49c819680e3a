/** Whether a report still describes the machine. Settings do not count: a report keeps its own. */
import type { Machine } from '../machine/machine.ts';
import type { Report } from '../results.ts';

/** false where the machine now has other channels, sectors or tolerances than when the report was made. */
export function describesMachine(report: Report, { description, reference }: Machine): boolean {
  const { barrel, channels } = description;
  const now = channels.map((channel, i) => ({ ...channel, reference: i === reference }));
  return (
    digestOf(report.channels ?? []) === digestOf(now) && barrelOf(report.barrel ?? null) === barrelOf(barrel)
  );
}

function digestOf(channels: NonNullable<Report['channels']>): string {
  const kept = channels.map(({ id, name, toleranceMs, reference, onBarrel }) => [
    id,
    name,
    toleranceMs,
    reference,
    onBarrel,
  ]);
  return JSON.stringify(kept);
}

function barrelOf(barrel: NonNullable<Report['barrel']> | null): string {
  if (barrel === null) return '';
  const { steps, stepsPerBeat, sectors } = barrel;
  return JSON.stringify([steps, stepsPerBeat, sectors.map(({ id, from }) => [id, from])]);
}
