/** A person stopped the run, or the thing it was for is gone. */
export class Stopped extends Error {
  constructor() {
    super('stopped');
  }
}

/** For the page, which takes a stop in the shape that browsers give it; anything else stays as it is. */
export function asAbort(error: unknown): unknown {
  return error instanceof Stopped ? new DOMException('stopped', 'AbortError') : error;
}
