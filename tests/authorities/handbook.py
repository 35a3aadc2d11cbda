"""Tabulated quantiles and probabilities from the handbook.

M. Abramowitz, I. A. Stegun (eds.), Handbook of Mathematical Functions, National Bureau of
Standards, 1964 (public domain): normal probability function from table 26.1, percentage points of
the t-distribution (two-sided 5 %) from table 26.10, of chi-square from table 26.8. From memory.
"""

# argument: probability below
NORMAL = {
    0.0: 0.5,
    0.5: 0.691462461274013,
    1.0: 0.841344746068543,
    1.96: 0.975002104851780,
    2.0: 0.977249868051821,
    3.0: 0.998650101968370,
}

# degrees of freedom: point with 97.5 % below
STUDENT_975 = {3: 3.182, 5: 2.571, 10: 2.228, 30: 2.042, 60: 2.000}

# probability above: chi-square with two degrees of freedom
CHI_SQUARE_2 = {0.05: 5.99146, 0.01: 9.21034}
