/** A program run to its end: wall time and greatest memory. */
import { spawn } from 'node:child_process';
import { existsSync, readFileSync } from 'node:fs';

export interface Run {
  readonly seconds: number;
  readonly peakMb: number;
}

/** Runs a program to its end; the greatest resident memory is what Linux keeps as VmHWM, read while it runs. */
export function timed(program: string, args: readonly string[]): Promise<Run> {
  return new Promise((resolve, reject) => {
    const start = performance.now();
    const child = spawn(program, args, { stdio: ['ignore', 'ignore', 'pipe'] });
    let complaint = '';
    let peakMb = NaN;
    child.stderr.on('data', (data: Buffer) => (complaint += data.toString()));
    const watch = setInterval(() => {
      const status = `/proc/${child.pid}/status`;
      if (!existsSync(status)) return;
      const found = /VmHWM:\s+(\d+) kB/.exec(readFileSync(status, 'utf8'));
      if (found) peakMb = Number(found[1]) / 1024;
    }, 20);
    child.on('error', reject);
    child.on('close', (code) => {
      clearInterval(watch);
      if (code === 0) resolve({ seconds: (performance.now() - start) / 1000, peakMb });
      else reject(new Error(`${program} ended with ${code}: ${complaint}`));
    });
  });
}

export function best(of: readonly Run[]): Run {
  return {
    seconds: Math.min(...of.map((run) => run.seconds)),
    peakMb: Math.max(...of.map((run) => run.peakMb)),
  };
}
