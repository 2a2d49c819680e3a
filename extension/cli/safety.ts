/** What stands before every line that sends someone's hands into the machine. */
export const safetyWords =
  'Before you reach in: stop the drive, isolate it and lock it out, and let moving and raised parts come to rest.\n' +
  'Local codes and licensed electricians come before anything printed here.';
