# Makes lomb-scargle.json: python3 lomb-scargle.py > lomb-scargle.json   (Debian's python3-scipy)
import json, random, scipy
from scipy.signal import lombscargle
import numpy as np
random.seed(3)
t = np.array(sorted(round(random.uniform(0, 40), 6) for _ in range(60)))
y = np.array([round(1.3 * float(np.cos(2 * np.pi * 0.37 * x - 0.8)) + random.gauss(0, 0.7), 6) for x in t])
y = np.round(y - y.mean(), 9)
f = [0.05, 0.111, 0.25, 0.37, 0.5, 0.73, 1.0, 1.91]
p = lombscargle(t, y, 2 * np.pi * np.array(f))
even = np.arange(64.0)
sine = 1.7 * np.sin(2 * np.pi * even * 5 / 64)
print(json.dumps({"scipy": scipy.__version__, "times": t.tolist(), "values": y.tolist(), "frequencies": f,
                  "power": p.tolist(), "evenSine": float(np.atleast_1d(lombscargle(even, sine, np.array([2 * np.pi * 5 / 64])))[0])}))
