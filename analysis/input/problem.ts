/**
 * A fault in something a person gave us. It is part of the interface: one line that names the file, the place in
 * it, what is wrong and how to mend it. Anything else that is thrown is our own defect.
 */
export class InputProblem extends Error {
  override readonly name = 'InputProblem';
  readonly place: string;
  readonly what: string;
  readonly mend: string;

  /**
   * What files hold may stand in any part but the first: control characters in it are shown and not obeyed, and what
   * is too long to be read is cut.
   *
   * @param file  path or name of the file at fault, as the person knows it
   * @param place where in the file: "line 3", "byte 44", "channels[1].id"; empty when it is the file as a whole
   * @param what  what is wrong, without a full stop
   * @param mend  what the person can do, without a full stop
   */
  constructor(
    readonly file: string,
    place: string,
    what: string,
    mend: string,
  ) {
    const parts = [place, what, mend].map((part) => cut(shown(part)));
    super([shown(file), parts[0], `${parts[1]}; ${parts[2]}`].filter((part) => part !== '').join(': '));
    [this.place, this.what, this.mend] = parts;
  }
}

/** Our own words and the longest list of names that they may quote; more is one name that fills the line. */
const maxPartLength = 600;

/** The middle is left out: what is said about a quoted text stands before and behind it. */
function cut(text: string): string {
  if (text.length <= maxPartLength) return text;
  return `${text.slice(0, maxPartLength / 2)} … ${text.slice(-maxPartLength / 4)}`;
}

/** Characters that end a line, steer a terminal or turn the direction of writing, and halves of a pair. */
const unseen =
  /[\u0000-\u001f\u007f-\u009f\u2028\u2029\u202a-\u202e\u2066-\u2069]|[\ud800-\udbff](?![\udc00-\udfff])|(?<![\ud800-\udbff])[\udc00-\udfff]/g;

function shown(text: string): string {
  return text.replace(unseen, (character) => {
    if (character === '\t') return ' ';
    return character === '\n' ? '\\n' : `\\u${character.charCodeAt(0).toString(16).padStart(4, '0')}`;
  });
}
