/** The numbers of a report: what each may be. */
import { z } from 'zod';

/**
 * No measure of a machine comes near it, and squares and sums of such numbers stay finite: what is larger was not written
 * by this tool.
 */
const largest = 1e12;
export const number = () => z.number().min(-largest).max(largest);
export const count = () => number().int();
export const known = number().nullable();
/** Counts, half-widths, spreads and variances: none is below 0. */
export const size = () => number().min(0);
export const knownSize = size().nullable();

/** Whole on the grid; swing, triplets and flams have pins in between. */
export const stepNumber = () => number();
/** ms; a key that is absent is 0. */
export const target = number().optional();
