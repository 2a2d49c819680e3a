/** What advice noticed that a person should know. */
import { finding } from '../catalogue.ts';
import type { Machine } from '../machine/machine.ts';
import type { Advice, Finding } from '../results.ts';

/** Groups that no allowed setting brings within tolerance, and what stands in the way. */
export function adviceFindings(_machine: Machine, advice: Advice): Finding[] {
  return (advice.obstacles ?? []).map(({ channel, sector, message }) =>
    finding('out-of-reach', message, { channel, sector }),
  );
}
