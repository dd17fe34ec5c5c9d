"""Own deterministic 1-D RTE solver (azimuthally averaged discrete ordinates, matrix-exponential thin
layer + doubling/adding, delta-M, Radau/Gauss quadrature incl. normal direction). Layers share one n.
Independent of any Monte Carlo code. Made the deterministic columns of tests/against_published/physics/rt_reference.csv and
fluence_depth.csv with 64 nodes (n = 1) and 2 x 48 nodes (n > 1). numpy 2.4.6, scipy 1.17.1."""
import numpy as np
from scipy.linalg import expm
from scipy.special import roots_jacobi, roots_legendre
from numpy.polynomial.legendre import legvander

def radau1(m):          # on [-1,1], includes +1
    x, w = roots_jacobi(m-1, 1, 0)
    return np.append(x, 1.0), np.append(w/(1-x), 2.0/m**2)

def quad(n, m, extra=()):
    """direction cosines in medium; split at critical angle if n>1"""
    br = [0.0]
    if n > 1: br.append(np.sqrt(1-1/n**2))
    br.append(1.0)
    X, W = [], []
    for i in range(len(br)-1):
        a, b = br[i], br[i+1]
        x, w = (radau1(m) if i == len(br)-2 else roots_legendre(m))
        X.append(a+(b-a)*(x+1)/2); W.append(w*(b-a)/2)
    return np.concatenate(X), np.concatenate(W)

def fresnel(ni, nt, c):
    s = np.sqrt(1-c*c)*ni/nt
    r = np.ones_like(c); ok = s < 1
    ct = np.sqrt(1-s[ok]**2); ci = c[ok]
    rs = ((ni*ci-nt*ct)/(ni*ci+nt*ct))**2; rp = ((ni*ct-nt*ci)/(ni*ct+nt*ci))**2
    r[ok] = (rs+rp)/2
    return r

class Solver:
    def __init__(self, n=1.0, m=48, lmax=None):
        self.n = n; self.nu, self.w = quad(n, m); self.N = len(self.nu)
        self.L = lmax or (2*m if n == 1 else 2*m)   # delta-M order
        self.I = np.eye(self.N)
        self.top = np.diag(fresnel(n, 1.0, self.nu)) if n != 1 else np.zeros((self.N, self.N))
        self.P = legvander(self.nu, self.L-1)
    def layer(self, mua, mus, g, d, n_=None):
        a = mus/(mua+mus) if mus > 0 else 0.0; b = (mua+mus)*d
        L = self.L; f = g**L if g != 0 else 0.0
        k = np.arange(L); chi = (2*k+1)*((g**k-f)/(1-f)) if g != 0 else np.where(k == 0, 1.0, 0.0)
        b2 = b*(1-a*f); a2 = a*(1-f)/(1-a*f)
        hp = (self.P*chi)@self.P.T; hm = (self.P*chi*(-1.0)**k)@self.P.T
        # normalise rows so that energy is exactly conserved  (1/2) sum_i w_i (hp+hm)_ij = 1
        nrm = 0.5*(self.w@(hp+hm)); self.nrm_err = np.max(np.abs(nrm-1)); 
        M1 = 1/self.nu[:, None]
        A = M1*(self.I-0.5*a2*hp*self.w[None, :]); B = M1*(0.5*a2*hm*self.w[None, :])
        nd = max(0, int(np.ceil(np.log2(b2/(0.5*self.nu.min()))))) if b2 > 0 else 0
        S = expm((b2/2**nd)*np.block([[-A, B], [-B, A]])); N = self.N
        R = -np.linalg.solve(S[N:, N:], S[N:, :N]); T = S[:N, :N]+S[:N, N:]@R
        for _ in range(nd):
            X = np.linalg.solve((self.I-R@R).T, T.T).T      # T (I-RR)^-1
            R, T = R+X@R@T, X@T
        return (R, R, T, T)                                  # R01(top) R10(bottom) T01 T10
    def add(self, p, q):
        R01, R10, T01, T10 = p; R12, R21, T12, T21 = q; I = self.I
        X = np.linalg.solve((I-R10@R12).T, T12.T).T; Y = np.linalg.solve((I-R12@R10).T, T10.T).T
        return (R01+Y@R12@T01, R21+X@R10@T21, X@T01, Y@T21)
    def stack(self, ls):
        t = None
        for l in ls:
            q = self.layer(*l) if len(l) == 4 and not isinstance(l[0], np.ndarray) else l
            t = q if t is None else self.add(t, q)
        return t
    def source(self):
        rs = ((self.n-1)/(self.n+1))**2
        v = np.zeros(self.N); v[-1] = (1-rs)/(2*self.nu[-1]*self.w[-1]); return rs, v
    def solve(self, layers, zs=(), bottom=True):
        """returns dict Rs,Rd,T(total),Tu, and fluence, down-flux, up-flux at zs"""
        rs, v = self.source(); f2 = 2*self.nu*self.w
        out = {'Rs': rs}
        Q = self.top
        Rb = self.top if bottom else np.zeros_like(self.top)
        def interior(z):
            acc = 0; up = []; dn = []
            for (mua, mus, g, d) in layers:
                if z >= acc+d-1e-12: up.append((mua, mus, g, d))
                elif z <= acc+1e-12: dn.append((mua, mus, g, d))
                else: up.append((mua, mus, g, z-acc)); dn.append((mua, mus, g, acc+d-z))
                acc += d
            I = self.I
            if up:
                R01, R10, T01, T10 = self.stack(up)
                # add top boundary:  boundary reflects inside light with Q
                X = np.linalg.solve((I-Q@R01).T, T01.T).T
                Tv = X@v                                     # down radiance at z if nothing below
                Rup = R10+X@Q@T10                            # reflection of upward light at z
            else: Tv = v; Rup = Q
            if dn:
                R12, R21, T12, T21 = self.stack(dn)
                Y = np.linalg.solve((I-R21@Rb).T, T21.T).T if True else None
                # bottom boundary Rb : R from above = R12 + T21 (I-Rb R21)^-1 Rb T12
                Rdn = R12+T21@np.linalg.solve(I-Rb@R21, Rb@T12)
            else: Rdn = Rb
            D = np.linalg.solve(I-Rup@Rdn, Tv); U = Rdn@D
            return D, U
        D0, U0 = interior(0.0); out['Rd'] = float(np.sum(f2*(1-np.diag(Q))*U0))
        zt = sum(l[3] for l in layers); Dz, Uz = interior(zt)
        out['T'] = float(np.sum(f2*(1-np.diag(Rb))*Dz))
        out['phi'] = []; out['F+'] = []; out['F-'] = []
        for z in zs:
            D, U = interior(z); out['phi'].append(float(np.sum(2*self.w*(D+U)))); out['F+'].append(float(f2@D)); out['F-'].append(float(f2@U))
        out['U0'] = U0; out['Dz'] = Dz
        return out
if __name__ == '__main__':
    for m in (16, 32, 48, 64):
        s = Solver(1.0, m); o = s.solve([(10, 90, .75, .02)], [0, .005, .01, .02]); print(m, o['Rd'], o['T'], o['phi'], s.nrm_err)
    for m in (8, 16, 32, 48):
        s = Solver(1.5, m); o = s.solve([(10, 90, 0, 1.0)], [0, .005, .01, .02]); print(m, o['Rd'], o['Rs']+o['Rd'], o['T'], o['phi'])
