/**
 * A fault in something a person gave us. It is part of the interface: one line that names the file, the place in
 * it, what is wrong and how to mend it. Anything else that is thrown is our own defect.
 */
export class InputProblem extends Error {
  override readonly name = 'InputProblem';

  /**
   * @param file  path or name of the file at fault, as the person knows it
   * @param place where in the file: "line 3", "byte 44", "channels[1].id"; empty when it is the file as a whole
   * @param what  what is wrong, without a full stop
   * @param mend  what the person can do, without a full stop
   */
  constructor(
    readonly file: string,
    readonly place: string,
    readonly what: string,
    readonly mend: string,
  ) {
    super([file, place, `${what}; ${mend}`].filter((part) => part !== '').join(': '));
  }
}
