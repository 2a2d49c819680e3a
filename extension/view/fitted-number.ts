/** A number that was fitted instead of the one proposed: typed, or counted up and down with large keys. */
import type { Task } from '../../analysis/report/sheet/openings.ts';
import { faultOfSetting } from '../common/fitted.ts';
import { button, make } from './element.ts';

export interface NumberForm {
  readonly element: HTMLElement;
  focus(): void;
}

/**
 * @param before what was said before; null: begins with the number proposed
 * @param say    called with a number that is allowed; what is wrong with another is told at the field
 */
export function numberForm(task: Task, before: number | null, say: (setting: number) => void): NumberForm {
  const { adjuster, unit, from, to, min, max } = task;
  const fault = make('p', { class: 'fault', id: 'number-fault', role: 'alert' });
  const field = make('input', {
    type: 'text',
    // Keyboards of numbers alone have no minus on some phones.
    inputmode: min < 0 ? 'text' : 'numeric',
    autocomplete: 'off',
    'aria-label': `${unit} of ${adjuster} now fitted, ${min} to ${max}`,
    'aria-describedby': 'number-fault',
  });
  field.value = `${before ?? to}`;
  const check = (): boolean => {
    const found = faultOfSetting({ id: adjuster, unit, installed: from, min, max }, field.value);
    fault.textContent = found === null ? '' : found.join('; ');
    field.setAttribute('aria-invalid', `${found !== null}`);
    return found === null;
  };
  field.addEventListener('input', () => {
    if (fault.textContent !== '') check();
  });
  const step = (by: number) => () => {
    const now = Number(field.value);
    field.value = `${Math.max(min, Math.min(max, (Number.isInteger(now) ? now : to) + by))}`;
    check();
  };
  const element = make(
    'form',
    { class: 'number' },
    make(
      'div',
      { class: 'count' },
      button('−', step(-1), { class: 'plain', 'aria-label': 'One less' }),
      field,
      button('+', step(1), { class: 'plain', 'aria-label': 'One more' }),
    ),
    fault,
    make('button', { type: 'submit', class: 'main' }, 'This is fitted'),
  );
  element.addEventListener('submit', (event) => {
    event.preventDefault();
    if (check()) say(Number(field.value));
    else field.focus();
  });
  return {
    element,
    focus() {
      field.focus();
      field.select();
    },
  };
}
