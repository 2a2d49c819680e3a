/** "Open Report", and "Work at the Machine", which leads through the work on the newest take's page. */
import { InputProblem } from '../../analysis/input/problem.ts';
import { pickMachine, pickTake, takesListed, type Clicked } from './targets.ts';
import type { Workshop } from './workshop.ts';

export async function openReport(shop: Workshop, clicked: Clicked): Promise<void> {
  const take = await pickTake(shop, clicked, ({ report }) => report !== null);
  if (!take) return;
  (await import('./report-panel.ts')).showReport(shop, take);
}

export async function workAtMachine(shop: Workshop, clicked: Clicked): Promise<void> {
  const root = await pickMachine(shop, clicked);
  if (!root) return;
  const [newest] = await takesListed(root, ({ report }) => report !== null);
  if (!newest)
    throw new InputProblem('machine.jsonc', '', 'the machine has no analysed take', 'analyse one first');
  (await import('./report-panel.ts')).showReport(shop, newest).leadThroughWork();
}
