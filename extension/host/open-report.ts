/** "Open Report". */
import { pickTake, type Clicked } from './targets.ts';
import type { Workshop } from './workshop.ts';

export async function openReport(shop: Workshop, clicked: Clicked): Promise<void> {
  const take = await pickTake(shop, clicked, ({ report }) => report !== null);
  if (!take) return;
  (await import('./report-panel.ts')).showReport(shop, take);
}
