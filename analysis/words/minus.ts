/** A number for people: "−3", with the minus sign of print and not the hyphen that stands for it in files. */
export function withMinus(number: number | string): string {
  return `${number}`.replace('-', '−');
}
