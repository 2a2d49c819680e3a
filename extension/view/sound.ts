/** Plays a stroke: samples from the editor go straight to the sound device, without a file or an address. */
import type { Editor } from './editor.ts';

/** Heard before the stroke, so that its start is not cut. */
const beforeS = 0.25;
const afterS = 1.25;
/** Fades at either end, so that the cut does not click. */
const fadeS = 0.01;

export class Player {
  private output: AudioContext | null = null;
  private playing: AudioBufferSourceNode | null = null;

  constructor(private readonly editor: Editor) {}

  /**
   * @param take null: the take shown
   * @returns one line where it could not be played, else null
   */
  async play(take: string | null, track: number, timeS: number): Promise<string | null> {
    if (track < 0) return 'This hit is known from a marker alone, so there is no sound to play.';
    this.ready();
    const want = { track, fromS: Math.max(0, timeS - beforeS), toS: timeS + afterS };
    const { clips, why } = await this.editor.clips(take, [want]);
    const clip = clips[0];
    if (clip === null || clip.samples.length === 0) return why ?? 'There is no sound at this time.';
    this.start([clip.samples], clip.sampleRate);
    return null;
  }

  /** To be called on the person's click or key, or browsers keep silent. */
  ready(): AudioContext {
    this.output ??= new AudioContext();
    void this.output.resume();
    return this.output;
  }

  /**
   * Plays samples at once, in place of what is playing.
   *
   * @param sides full scale ±1; one for both ears, or left and right, alike long
   */
  start(
    sides: readonly Float32Array[],
    sampleRate: number,
    { loop = false, speed = 1 }: { readonly loop?: boolean; readonly speed?: number } = {},
  ): void {
    const output = this.ready();
    const buffer = output.createBuffer(sides.length, sides[0].length, sampleRate);
    sides.forEach((samples, side) => {
      const faded = buffer.getChannelData(side);
      const fade = Math.min(samples.length / 2, fadeS * sampleRate);
      samples.forEach((sample, i) => {
        const gain = Math.min(1, i / fade, (samples.length - 1 - i) / fade);
        faded[i] = Number.isFinite(sample) ? Math.max(-1, Math.min(1, sample)) * gain : 0;
      });
    });
    this.stop();
    this.playing = output.createBufferSource();
    this.playing.buffer = buffer;
    this.playing.loop = loop;
    this.playing.playbackRate.value = speed;
    this.playing.connect(output.destination);
    this.playing.start();
  }

  stop(): void {
    this.playing?.stop();
    this.playing = null;
  }

  end(): void {
    this.stop();
    void this.output?.close();
    this.output = null;
  }
}
