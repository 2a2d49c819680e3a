/** Largest lateness that is good enough where a channel says nothing, ms: what a builder means by "together"; common practice, no source. */
export const defaultToleranceMs = 2;
