/** Whether a process still runs; what locks and temporary files of killed runs are told by. */
import { codeOf } from './fault.ts';

/** true while a process of that number runs on this computer. */
export function isAlive(pid: number): boolean {
  try {
    process.kill(pid, 0);
    return true;
  } catch (error) {
    return codeOf(error) !== 'ESRCH';
  }
}
