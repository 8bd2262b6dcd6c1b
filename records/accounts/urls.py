from django.urls import path

from records.accounts import link_views, tablet_views, views

app_name = "accounts"
urlpatterns = [
    path("sign-in/", views.sign_in, name="sign_in"),
    path("sign-in/code/", views.sign_in_code, name="sign_in_code"),
    path("choose-password/<str:key>/", link_views.choose_password, name="choose_password"),
    path("lock/", tablet_views.lock, name="lock"),
    path("sign-out/", views.sign_out, name="sign_out"),
    path("people/me/", views.me, name="me"),
    path("people/me/password/", views.my_password, name="my_password"),
    path("people/me/code/", tablet_views.my_code, name="my_code"),
    path("people/me/typed/", tablet_views.typed, name="typed"),
    path("people/me/end-sessions/", views.my_sessions, name="my_sessions"),
    path("people/me/second-factor/", views.factor_on, name="factor_on"),
    path("people/me/second-factor/off/", views.factor_off, name="factor_off"),
    path("people/me/recovery-codes/", views.recovery_codes, name="recovery_codes"),
    path("people/permissions/", views.permissions, name="permissions"),
    path("people/tablets/", tablet_views.tablets, name="tablets"),
    path("people/tablets/<str:public_id>/end/", tablet_views.tablet_end, name="tablet_end"),
    path("people/<str:public_id>/", views.person, name="person"),
    path("people/<str:public_id>/roles/end/", views.role_end, name="role_end"),
    path("people/<str:public_id>/off/", views.disable, name="disable"),
    path("people/<str:public_id>/on/", views.enable, name="enable"),
    path("people/<str:public_id>/password/", link_views.first_password, name="first_password"),
    path("people/<str:public_id>/qualified/new/", views.competence_new, name="competence_new"),
]
