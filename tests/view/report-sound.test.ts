/** Sound for the page, found in files of several recorders. */
import { expect, test } from 'vitest';
import type { Report } from '../../analysis/results/results.ts';
import { soundOf } from '../../extension/host/report-sound.ts';
import type { ReportServices } from '../../extension/host/report-services.ts';
import type { ClipOrder } from '../../extension/work/jobs.ts';
import { exampleReport } from '../report/example.ts';

/** The second recorder began 2 s after the first, and its clock ran 1000 ppm slow. */
const report: Report = {
  ...exampleReport(),
  tracks: ['one.wav', 'two.wav'].map((file) => ({ file, track: 0, sampleRate: 1000, noiseDb: null })),
  files: [
    { file: 'one.wav', startS: 0, startCi95Ms: 0, clockPpm: 0, clockCi95Ppm: 0, how: 'first' },
    { file: 'two.wav', startS: 2, startCi95Ms: 0.1, clockPpm: 1000, clockCi95Ppm: 1, how: 'found' },
  ],
};

test('a moment of the take is read where it lies in each file, and comes back at its time', async () => {
  const asked: ClipOrder[] = [];
  const services = {
    clips: (_: string, orders: readonly ClipOrder[]) => {
      asked.push(...orders);
      const clip = ({ fromS }: ClipOrder) => ({ sampleRate: 1000, fromS, samples: new Float32Array(10) });
      return Promise.resolve(orders.map(clip));
    },
  } as unknown as ReportServices;
  const wants = [0, 1].map((track) => ({ track, fromS: 22.02, toS: 22.03 }));
  const { clips, why } = await soundOf(services, 'take', report, wants);
  expect(why).toBeNull();
  expect(asked.map(({ file, fromS }) => [file, +fromS.toFixed(9)])).toEqual([
    ['one.wav', 22.02],
    // 20 s of the second file are 20.02 s of the first one's clock.
    ['two.wav', 20],
  ]);
  expect(clips[0]).toMatchObject({ sampleRate: 1000, fromS: 22.02 });
  expect(clips[1]!.fromS).toBeCloseTo(22.02, 9);
  expect(clips[1]!.sampleRate).toBeCloseTo(999.000999, 6);
});
