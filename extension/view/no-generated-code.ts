/**
 * The run-time checks must not make code out of strings: this page's policy refuses that. Checks decide it when they
 * are made, so this file is imported before every other.
 */
import { z } from 'zod';

z.config({ jitless: true });
