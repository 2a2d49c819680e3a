/** Close listening in a real browser: what is asked for, and what goes to the sound device. */
import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest';
import type { Report } from '../../analysis/results/results.ts';
import type { ToHost } from '../../extension/protocol/messages.ts';
import { exampleReport } from '../report/example.ts';
import { type OpenPage, PageHouse, noBrowser } from './page.ts';
import { messageOf } from './report-message.ts';

const sampleRate = 8000;
/** Loud samples of each side, ms from the start of what is played. */
interface Heard {
  readonly sides: number[][];
  readonly loop: boolean;
  readonly speed: number;
  readonly lengthMs: number;
}

/** The gong at 1.25 and 13.25 s, pin 6; the block so much before it each time, on a track of its own or on the gong's. */
function report(blockTrack: 0 | 1, aheadS: number): Report {
  const base = exampleReport();
  const block = base.hits.find(({ channel }) => channel === 'block')!;
  return {
    ...base,
    tracks: [0, 1].map((track) => ({ file: 'close.wav', track, sampleRate, noiseDb: null })),
    hits: [
      ...base.hits.filter(({ channel }) => channel === 'gong'),
      ...[1.25, 13.25].map((gongS, turn) => ({
        ...block,
        timeS: gongS - aheadS,
        turn,
        step: 6,
        track: blockTrack,
      })),
    ].sort((a, b) => a.timeS - b.timeS),
  };
}

describe.skipIf(noBrowser !== null)(`by ear${noBrowser === null ? '' : ` (skipped: ${noBrowser})`}`, () => {
  let house: PageHouse;
  let open: OpenPage;
  beforeAll(async () => {
    house = await PageHouse.open();
  });
  afterAll(() => house.close());
  afterEach(() => open.close());

  const last = () =>
    open.sent.findLast((message): message is Extract<ToHost, { kind: 'clips' }> => message.kind === 'clips');

  async function show(blockTrack: 0 | 1, aheadS = 0.004) {
    open = await house.page('dark');
    const { page } = open;
    await page.evaluate(() => {
      const heard: Heard[] = [];
      Object.assign(window, { heard });
      const start = Object.getOwnPropertyDescriptor(AudioScheduledSourceNode.prototype, 'start')!.value as (
        this: AudioScheduledSourceNode,
      ) => void;
      AudioBufferSourceNode.prototype.start = function () {
        start.call(this);
        const { numberOfChannels, sampleRate: rate, duration } = this.buffer!;
        const sides = Array.from({ length: numberOfChannels }, (_, side) => {
          const samples = this.buffer!.getChannelData(side);
          const loud = [...samples.keys()].filter((i) => Math.abs(samples[i]) > 0.3);
          return loud.map((i) => Math.round((1e4 * i) / rate) / 10);
        });
        heard.push({
          sides,
          loop: this.loop,
          speed: this.playbackRate.value,
          lengthMs: Math.round(1000 * duration),
        });
      };
    });
    await open.post(messageOf(report(blockTrack, aheadS)));
    await page.waitForSelector('[data-run]');
    // The gong's first stroke.
    await page.locator('.panel[data-channel=gong] .sheet').focus();
    await page.keyboard.press('Home');
    await page.locator('.by-ear summary').click();
    return page;
  }

  /** Presses Listen and answers with a click at each of these times of each track. */
  async function listen(clicks: readonly (readonly number[])[]): Promise<Heard> {
    const before = last()?.request;
    await open.page.getByRole('button', { name: 'Listen' }).click();
    await expect.poll(() => last()?.request).not.toBe(before);
    const { request, wants } = last()!;
    const clips = wants.map(({ track, fromS, toS }) => {
      const first = Math.round(fromS * sampleRate);
      const samples = new Float32Array(Math.round(toS * sampleRate) - first);
      for (const s of clicks[track]) {
        const i = Math.round(s * sampleRate) - first;
        if (i >= 0 && i < samples.length) samples[i] = 0.5;
      }
      return { sampleRate, fromS: first / sampleRate, samples };
    });
    const count = await heardSoFar();
    await open.post({ kind: 'clips', run: 1, request, clips, why: null });
    await expect.poll(heardSoFar).toBe(count + 1);
    return (await open.page.evaluate(() => (window as unknown as { heard: Heard[] }).heard)).at(-1)!;
  }
  const heardSoFar = () => open.page.evaluate(() => (window as unknown as { heard: unknown[] }).heard.length);

  test('a pin in a loop, half as fast, and it can be stopped', async () => {
    const page = await show(1);
    const clicks = [[1.25, 13.25], []];
    const loop = await listen(clicks);
    // 0.7 s about each stroke, the stroke 0.2 s in.
    expect(loop).toEqual({ sides: [[200, 900]], loop: true, speed: 1, lengthMs: 1400 });
    expect(await page.locator('.by-ear [role=status]').textContent()).toBe(
      'Playing 2 strokes of this pin in a loop',
    );
    await page.getByLabel('half as fast, an octave lower').check();
    expect(await listen(clicks)).toMatchObject({ speed: 0.5 });
    await page.getByRole('button', { name: 'Stop' }).click();
    expect(await page.locator('.by-ear [role=status]').textContent()).toBe('');
    expect(open.complaints).toEqual([]);
  });

  test('the reference left and the channel right, each from its own track', async () => {
    const page = await show(1);
    await page.getByLabel('the reference left, this channel right').check();
    const { sides } = await listen([
      [1.25, 13.25],
      [1.246, 13.246],
    ]);
    expect(sides).toEqual([
      [196, 896],
      [200, 900],
    ]);
    expect(await page.locator('.by-ear [role=status]').textContent()).toContain(
      'Wood block left, Gong right',
    );
  });

  test.each([
    [0.15, [50, 750], [200, 900]],
    // Struck together they cannot be told apart, and it says so.
    [0.004, [196, 200, 896, 900], [196, 200, 896, 900]],
  ])('both on one track, %d s apart', async (aheadS, left, right) => {
    const page = await show(0, aheadS);
    await page.getByLabel('the reference left, this channel right').check();
    const { sides } = await listen([[1.25 - aheadS, 1.25, 13.25 - aheadS, 13.25], []]);
    expect(sides).toEqual([left, right]);
    expect(await page.locator('.by-ear [role=status]').textContent()).toContain(
      'both are on one track, so what strikes together is heard on both sides',
    );
  });

  test('one channel alone from the chosen stroke on: what others strike is silent', async () => {
    const page = await show(1);
    await page.getByLabel('this channel from here on, 8 s').check();
    const clicks = [[1.25, 4, 7.25], []];
    expect((await listen(clicks)).sides[0]).toEqual([200, 2950, 6200]);
    await page.getByLabel('alone: silence where others strike').check();
    // At 4 s nothing of the gong's is known; at 7.25 s its next stroke.
    const { sides, loop } = await listen(clicks);
    expect(sides[0]).toEqual([200, 6200]);
    expect(loop).toBe(false);
  });

  test('how it is listened to survives a reload; another stroke ends it', async () => {
    const page = await show(1);
    await page.getByLabel('alone: silence where others strike').check();
    await listen([[1.25, 13.25], []]);
    await page.locator('.panel[data-channel=gong] .sheet').focus();
    await page.keyboard.press('End');
    expect(await page.locator('.by-ear [role=status]').textContent()).toBe('');
    await page.reload();
    await open.post(messageOf(report(1, 0.004), { run: 3 }));
    await page.waitForSelector('[data-run="3"]');
    expect(await page.getByLabel('alone: silence where others strike').isChecked()).toBe(true);
  });
});
