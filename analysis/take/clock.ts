/** What is known of when a file began and how its recorder's clock ran. */

export interface FileClock {
  readonly file: string;
  /** Of its first sample, by the first file's clock, s. */
  readonly startS: number;
  /** Standard deviation, s; 0 where it is the first file or in step with it, NaN where nothing tells. */
  readonly startSdS: number;
  /** Seconds of the first file's clock to a second of this one's, less 1. */
  readonly drift: number;
  /** Standard deviation; 0 and NaN as above. */
  readonly driftSd: number;
  /**
   * "first": the others are held against it. "in-step": the sound says that they began together and run alike. "found": from
   * the sound. "said": the files are of one length, which two recorders' are not; the sound does not tell. "unknown".
   */
  readonly how: 'first' | 'in-step' | 'found' | 'said' | 'unknown';
}
