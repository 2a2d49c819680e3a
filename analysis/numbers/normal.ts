/** The factor from a standard deviation to the half-width of a 95 % interval of the normal distribution. */
export const NORMAL_95 = 1.959964;
