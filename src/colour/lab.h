/* CIELAB, CIELCh, OKLab and CIEDE2000. D50 unless said. */
#ifndef MILORI_LAB_H
#define MILORI_LAB_H

/* XYZ with Y of the perfect diffuser 1, D50 (ICC: .9642 1 .8249). */
void mil_xyz_to_lab(const double xyz[3], double lab[3]);
void mil_lab_to_xyz(const double lab[3], double xyz[3]);
/* L* of a luminance factor Y 0..1 and back (ISO/CIE 11664-4). */
double mil_lightness(double luminance);
double mil_luminance(double lightness);
double mil_ciede2000(const double lab1[3], const double lab2[3]);
/* OKLab (Ottosson 2020) from XYZ D65 and back. */
void mil_xyz_to_oklab(const double xyz[3], double lab[3]);
void mil_oklab_to_xyz(const double lab[3], double xyz[3]);
/* Bradford between D50 and D65. */
void mil_d50_to_d65(const double xyz[3], double out[3]);
void mil_d65_to_d50(const double xyz[3], double out[3]);

#endif
